/** Judges units on all cores, or in this thread when there is one. */

import type { MachineOutcome } from '@warmbrick/tuning';
import { Piscina } from 'piscina';
import { forgetUnits, runUnitTask, type UnitTask } from './unit-task.js';

export interface JudgePool {
  run(task: UnitTask): Promise<MachineOutcome[]>;
  close(): Promise<void>;
}

/** Starts so many threads; with one everything runs here. */
export function openJudgePool(threads: number): JudgePool {
  if (threads <= 1) return { run: async (task) => runUnitTask(task), close: async () => forgetUnits() };
  const isSource = import.meta.url.endsWith('.ts');
  const pool = new Piscina<UnitTask, MachineOutcome[]>({
    filename: new URL(`./unit-worker.${isSource ? 'ts' : 'js'}`, import.meta.url).href,
    name: 'judgeInWorker',
    minThreads: threads,
    maxThreads: threads,
    // From the sources, as tests run, a worker has to be told how to read them.
    ...(isSource ? { execArgv: ['--import', 'tsx', '--conditions=source'] } : {}),
  });
  return { run: (task) => pool.run(task), close: () => pool.destroy() };
}
