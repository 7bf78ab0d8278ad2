/** Derate cases: some days of a machine that end in a derate, with the fault that began it known. */

import type { FaultReport, MachineProfileInput, SampleBlock } from '@warmbrick/signals';

export interface CaseCode {
  readonly spn: number;
  readonly fmi: number;
}

/** A code of a controller over engine minutes; `toMinute` may lie past the end. */
export interface CodeSpan extends CaseCode {
  readonly sourceAddress: number;
  readonly fromMinute: number;
  readonly toMinute: number;
  readonly isLit: boolean;
}

/** How the inducement or protection came; the truth of a case. */
export const caseMechanisms = [
  'empty-tank',
  'bad-quality',
  'wrong-fluid',
  'dosing-part',
  'frozen',
  'nox-sensor',
  'level-sensor',
  'quality-sensor',
  'egr',
  'soot',
  'hot-or-dry',
  'air-or-fuel',
  'supply',
  'worn-catalyst',
  'maker-code',
] as const;
export type CaseMechanism = (typeof caseMechanisms)[number];

export interface DerateTruth {
  /** Two when two faults each led to it. */
  readonly origins: readonly {
    readonly mechanism: CaseMechanism;
    /** What it was first reported as, and what that rose to. */
    readonly codes: readonly CaseCode[];
    readonly startedMs: number;
  }[];
  readonly derateStartedMs: number;
  /** Engine hours between the first origin and the derate. */
  readonly gapH: number;
  /** The family of schedules by which it came; null where none rules. */
  readonly family: ScheduleFamily | null;
  /** False when no report of the origin ever got through: then nobody can know. */
  readonly isOriginSent: boolean;
}

export const scheduleFamilies = ['eu', 'us-4h', 'us-36h', 'short', 'own'] as const;
export type ScheduleFamily = (typeof scheduleFamilies)[number];

export interface DerateCase {
  readonly seed: number;
  readonly machineId: string;
  readonly profile: MachineProfileInput;
  /** Every minute while the engine runs. */
  readonly samples: SampleBlock;
  /** In the order in which they arrived. */
  readonly reports: readonly FaultReport[];
  readonly truth: DerateTruth;
}
