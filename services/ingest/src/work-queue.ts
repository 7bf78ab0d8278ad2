/** One job after the other, with a bound on how many wait. */

import { OperatingError } from '@warmbrick/runtime';

export interface WorkQueue {
  /** Waits for a place, then runs the job in its turn. Errors: the job's, and OperatingError `ingest-closed`. */
  run<T>(job: () => Promise<T>): Promise<T>;
  /** Takes no new job; resolves when the last one has ended. */
  close(): Promise<void>;
}

/** Makes a queue for at most `places` jobs, the running one included. */
export function createWorkQueue(places: number): WorkQueue {
  const waiting: (() => void)[] = [];
  let taken = 0;
  let isClosed = false;
  let last: Promise<unknown> = Promise.resolve();

  const waitForPlace = async () => {
    await new Promise<void>((resolve) => waiting.push(resolve));
    if (!isClosed) return;
    givePlace();
    throw closed();
  };
  const givePlace = () => {
    const next = waiting.shift();
    if (next === undefined) taken--;
    else next();
  };

  return {
    async run(job) {
      if (isClosed) throw closed();
      if (taken < places) taken++;
      else await waitForPlace();
      try {
        const done = last.then(job);
        last = done.catch(() => {});
        return await done;
      } finally {
        givePlace();
      }
    },
    async close() {
      isClosed = true;
      await last;
    },
  };
}

function closed(): OperatingError {
  return new OperatingError('The pipeline is closing and takes nothing more.', { code: 'ingest-closed' });
}
