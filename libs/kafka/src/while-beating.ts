/** Waiting for something without being taken for dead. */

import { setTimeout as sleep } from 'node:timers/promises';

/** Waits for a job and calls `beat` every so often meanwhile. Errors: those of the job, and of a beat that fails. */
export async function whileBeating<T>(job: Promise<T>, everyMs: number, beat: () => Promise<void>): Promise<T> {
  let isOver = false;
  const ended = job.finally(() => {
    isOver = true;
  });
  // Whoever is told of a failed beat first need not hear of the job.
  const settled = ended.catch(() => {});
  while (!isOver) {
    const timer = new AbortController();
    await Promise.race([settled, sleep(everyMs, undefined, { signal: timer.signal }).catch(() => {})]);
    timer.abort();
    if (!isOver) await beat();
  }
  return ended;
}
