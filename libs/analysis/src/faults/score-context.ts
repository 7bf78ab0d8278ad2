/** What scoring a trouble looks at, and what each look gives. */

import type { MachineProfile } from '@warmbrick/signals';
import type { Finding } from '../finding.js';
import type { DerateEpisode } from './derate-episode.js';
import type { Evidence } from './derate-inquiry.js';
import type { FleetFaultTable } from './describe-fault.js';
import type { FaultEpisode } from './fault-episode.js';
import type { HoursMeter } from './hours-meter.js';
import type { InducementSchedule } from './inducement-schedule.js';
import type { SignalView } from './signal-view.js';

export interface ScoreContext {
  readonly derate: DerateEpisode;
  readonly faults: readonly FaultEpisode[];
  readonly findings: readonly Finding[];
  readonly profile: MachineProfile;
  readonly schedules: readonly InducementSchedule[];
  readonly fleetTable: FleetFaultTable;
  readonly meter: HoursMeter;
  readonly view: SignalView;
}

/** A number that multiplies, and why. */
export interface Factor {
  readonly factor: number;
  readonly evidence: Evidence;
}
