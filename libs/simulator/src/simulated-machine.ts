/** What there is to say about a machine before it lives. */

import type { MachineProfileInput } from '@warmbrick/signals';
import type { AftertreatmentOptions } from './aftertreatment/options.js';
import type { Climate } from './climate.js';
import type { DutySegment } from './duty.js';
import type { Gateway, SensorFault } from './gateway.js';
import type { Habit } from './habits.js';
import type { SimulatedChannel } from './readings.js';

export interface SimulatedMachine {
  readonly machineId: string;
  readonly profile: MachineProfileInput;
  readonly habit: Habit;
  /** Duty from the start of the simulation, then off; without it, shifts by the habit and the profile's calendar. */
  readonly schedule?: readonly DutySegment[];
  /** What it sends. */
  readonly channels: readonly SimulatedChannel[];
  readonly gateway?: Gateway;
  readonly sensorFaults?: readonly SensorFault[];
  readonly climate?: Climate;
  /**
   * A whole aftertreatment system with what goes wrong in it: `{}` is a sound one. Left out, the machine has only the
   * coarse soot and DEF of `machine-body.ts`, no fault codes and no value in the channels of a whole system.
   */
  readonly aftertreatment?: AftertreatmentOptions;
  /** How the machine was before; defaults: 3000 h, 900 h, 70 %, 35 %. */
  readonly engineHours?: number;
  readonly idleHours?: number;
  readonly defLevelPct?: number;
  readonly sootPct?: number;
}
