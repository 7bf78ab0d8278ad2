/** The worker of the bench page: the analysis runs here, so that the page never waits for it. */

import { unpackColumns } from '@warmbrick/contracts';
import type { SampleBlock } from '@warmbrick/signals';
import { type BenchDesk, createBenchDesk } from './bench-desk.js';
import type { FromWorker, ToWorker } from './bench-messages.js';

const scope = self as unknown as {
  postMessage(message: FromWorker): void;
  addEventListener(type: 'message', listen: (event: MessageEvent<ToWorker>) => void): void;
};
let desk: BenchDesk | null = null;
/** The latest question; one that was overtaken is not finished. */
let latest = 0;

scope.addEventListener('message', ({ data }) => {
  try {
    if (data.type === 'load') load(data);
    else answer(data);
  } catch (error) {
    scope.postMessage({ type: 'failed', message: (error as Error).message });
  }
});

function load({ machineId, profile, days }: Extract<ToWorker, { type: 'load' }>): void {
  const blocks = days.flatMap(unpackColumns).filter((block) => block.timeMs.length > 0);
  desk = createBenchDesk({ machineId, profile }, blocks);
  const first = blocks[0]?.timeMs[0] ?? 0;
  const last = (blocks.at(-1) as SampleBlock | undefined)?.timeMs.at(-1) ?? 0;
  scope.postMessage({ type: 'loaded', samples: desk.samples, fromMs: first, toMs: last });
}

function answer({ number, before, after }: Extract<ToWorker, { type: 'try' }>): void {
  if (desk === null) return;
  latest = number;
  const startedAt = performance.now();
  const { document, isWhole, ran } = desk.compare(before, after);
  const elapsedMs = performance.now() - startedAt;
  scope.postMessage({ type: 'tried', number, document, isWhole, elapsedMs, ran });
  if (isWhole) return;
  // Lets a newer question in first: while the reader moves on, nobody waits for this score.
  setTimeout(() => {
    if (desk === null || latest !== number) return;
    const finished = desk.finish(before, after);
    scope.postMessage({ type: 'tried', number, document: finished, isWhole: true, elapsedMs, ran });
  }, settleMs);
}

/** Rest of the slider after which the whole analysis runs. */
const settleMs = 150;
