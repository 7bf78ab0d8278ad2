/** One second of a machine's life. One object serves for all of them: a new one a second would cost more than the physics. */

import type { MachineProfile } from '@warmbrick/signals';
import type { Random } from '../random.js';
import type { Readings } from '../readings.js';

/** As the parts of an aftertreatment see it. */
export type Second = Readonly<MovingSecond>;

/** As it is moved on. */
export interface MovingSecond {
  timeMs: number;
  /** From the start of the simulation; below nought in the life before it. */
  sinceStartS: number;
  isKeyOn: boolean;
  isBurning: boolean;
  /** From here to the end of the segment of duty: while the key is off, to the next start, s. */
  untilStartS: number;
  torqueRatio: number;
  powerKW: number;
  airC: number;
  readonly profile: MachineProfile;
  /** What the machine measures; the aftertreatment writes its own part. */
  readonly readings: Readings;
  readonly random: Random;
}

/** The second before a machine's first. */
export function secondBefore(machine: { profile: MachineProfile; readings: Readings; random: Random }): MovingSecond {
  return {
    timeMs: 0,
    sinceStartS: 0,
    isKeyOn: false,
    isBurning: false,
    untilStartS: 0,
    torqueRatio: 0,
    powerKW: 0,
    airC: 0,
    ...machine,
  };
}
