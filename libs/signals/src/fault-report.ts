/** Fault codes as controllers report them. */

export type LampState = 'off' | 'on' | 'reserved' | 'unavailable';

export interface FaultCode {
  /** Suspect parameter number, 19 bits. */
  readonly spn: number;
  /** Failure mode identifier, 0-31. */
  readonly fmi: number;
  /** 0-126; null when the controller does not count. */
  readonly occurrenceCount: number | null;
  /** J1939-73 conversion method bit; 0 is the current layout. */
  readonly conversionMethod: 0 | 1;
}

/** One DM1 (active) or DM2 (previously active) message: the whole list of one controller at one time. */
export interface FaultReport {
  readonly machineId: string;
  readonly timeMs: number;
  readonly sourceAddress: number;
  readonly kind: 'active' | 'previously-active';
  readonly lamps: {
    readonly malfunction: LampState;
    readonly redStop: LampState;
    readonly amberWarning: LampState;
    readonly protect: LampState;
  };
  /** Raw flash byte, 255 when not supported. */
  readonly flash: number;
  readonly codes: readonly FaultCode[];
  /** The source only told that these codes occurred; codes that are missing did not clear. Absent for a whole list. */
  readonly isPartial?: true;
}
