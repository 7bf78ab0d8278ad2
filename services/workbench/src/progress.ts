/** Progress on stderr: a line that is written over while somebody watches, one line at the end. */

import { performance } from 'node:perf_hooks';
import type { Console } from './console.js';

export interface Progress {
  readonly report: (samples: number) => void;
  finish(samples: number): void;
}

const everyMs = 250;

/** Starts the progress of one reading. */
export function createProgress(console: Console, isQuiet: boolean): Progress {
  const startedAt = performance.now();
  let shownAt = startedAt;
  const rateOf = (samples: number) => {
    const elapsedS = Math.max(0.001, (performance.now() - startedAt) / 1000);
    return `${samples.toLocaleString('en')} samples in ${elapsedS.toFixed(1)} s`;
  };
  return {
    report(samples) {
      const now = performance.now();
      if (isQuiet || !console.isWatched || now - shownAt < everyMs) return;
      shownAt = now;
      console.err(`\r${rateOf(samples)} `);
    },
    finish(samples) {
      if (!isQuiet) console.err(`${console.isWatched ? '\r' : ''}${rateOf(samples)}\n`);
    },
  };
}
