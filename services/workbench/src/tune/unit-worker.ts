/** Entry of a worker thread: judges one unit a call. */

import type { MachineOutcome } from '@warmbrick/tuning';
import { runUnitTask, type UnitTask } from './unit-task.js';

/** What the pool calls. */
export function judgeInWorker(task: UnitTask): MachineOutcome[] {
  return runUnitTask(task);
}
