/** The worker of the bench page, asked one question at a time. */

import type { ThresholdSet } from '@warmbrick/analysis';
import type { ComparisonDocument } from '@warmbrick/contracts';
import type { FromWorker, ToWorker } from './bench-messages.js';

export interface LoadedSpan {
  readonly samples: number;
  readonly fromMs: number;
  readonly toMs: number;
}

export interface Tried {
  readonly document: ComparisonDocument;
  /** False: the score is still to come. */
  readonly isWhole: boolean;
  readonly elapsedMs: number;
  readonly ran: readonly string[];
}

export interface DeskEars {
  readonly onLoaded: (span: LoadedSpan) => void;
  readonly onTried: (answer: Tried) => void;
  readonly onFailed: (detail: string) => void;
}

export interface WorkerDesk {
  /** Starts a fresh worker with these samples; their buffers are handed over. */
  load(samples: Omit<Extract<ToWorker, { type: 'load' }>, 'type'>): void;
  /** While an answer is awaited only the last question is kept: what came in between is never computed. */
  ask(before: ThresholdSet, after: ThresholdSet): void;
  stop(): void;
}

/** Makes a desk; no worker runs before the first load. */
export function createWorkerDesk(ears: DeskEars): WorkerDesk {
  let worker: Worker | null = null;
  let asked = 0;
  let isAnswering = false;
  let waiting: readonly [ThresholdSet, ThresholdSet] | null = null;
  const send = (message: ToWorker, handedOver: Transferable[] = []) => worker?.postMessage(message, handedOver);
  const ask = (before: ThresholdSet, after: ThresholdSet) => {
    waiting = isAnswering ? [before, after] : null;
    if (isAnswering) return;
    isAnswering = true;
    asked++;
    send({ type: 'try', number: asked, before, after });
  };
  const hear = (message: FromWorker) => {
    if (message.type === 'failed') ears.onFailed(message.message);
    else if (message.type === 'loaded') ears.onLoaded(message);
    else if (message.number === asked) {
      ears.onTried(message);
      isAnswering = false;
      if (waiting !== null) ask(...waiting);
    }
  };
  return {
    load(samples) {
      worker?.terminate();
      isAnswering = false;
      waiting = null;
      worker = new Worker(new URL('./bench-worker.ts', import.meta.url), { type: 'module' });
      worker.addEventListener('message', (event: MessageEvent<FromWorker>) => hear(event.data));
      worker.addEventListener('error', () => ears.onFailed('The worker ended.'));
      send(
        { type: 'load', ...samples },
        samples.days.map(({ buffer }) => buffer),
      );
    },
    ask,
    stop: () => worker?.terminate(),
  };
}
