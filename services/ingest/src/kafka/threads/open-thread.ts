/** Starts the program of a thread, built or, as in tests, from its source. */

import { createRequire } from 'node:module';
import { Worker } from 'node:worker_threads';

/** Starts a thread that analyses. */
export function openThread(workerData: object): Worker {
  // Built, it needs nothing of what this process was started with: a reader of sources alone makes it half as slow again.
  if (!import.meta.url.endsWith('.ts'))
    return new Worker(new URL('./analysis-thread.js', import.meta.url), { workerData, execArgv: [] });
  // A thread does not take over what lets this one read sources.
  const reader = createRequire(import.meta.url)
    .resolve('tsx/esm/api')
    .replace(/\.cjs$/, '.mjs');
  const program = new URL('./analysis-thread.ts', import.meta.url).href;
  const code = `import(${JSON.stringify(reader)}).then(({ register }) => { register(); return import(${JSON.stringify(program)}); })`;
  return new Worker(code, { eval: true, workerData, execArgv: ['--conditions=source'] });
}
