/** What really happened, to judge findings by: from people, from service records, from the data or from a simulation. */

export interface TruthLabel {
  readonly machineId: string;
  /** What happened: a kind of finding, or another word such as `derate`, `blockage`, `service`. */
  readonly kind: string;
  readonly startedMs: number;
  /** null: its end is not known, or it has none. */
  readonly endedMs: number | null;
  /** False: to find it is no false alarm, to miss it no miss (too short, too near a limit, out of sight). */
  readonly isRequired: boolean;
}
