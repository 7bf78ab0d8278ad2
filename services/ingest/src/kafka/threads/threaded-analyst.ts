/** An analyst that has threads do the work: each has its own machines, so that none waits for another. */

import { setTimeout as sleep } from 'node:timers/promises';
import type { IncomingMessage, PartitionBatch } from '@warmbrick/kafka';
import type { RejectedMessage, Store } from '@warmbrick/store';
import type { Analyst, AnalystOptions } from '../analyst.js';
import { cursorSource } from '../cursor-source.js';
import { type BatchBytes, toBytes } from './batch-bytes.js';
import { openThread } from './open-thread.js';
import {
  type BareReject,
  type FromThread,
  type Outcome,
  outcomeOf,
  resultOf,
  type ThreadAnalysis,
  type ThreadOptions,
  type ToThread,
} from './thread-messages.js';

export interface ThreadedOptions extends AnalystOptions {
  readonly threads: number;
  /** Between looks whether the partitions are still ours, ms. */
  readonly beatEveryMs: number;
  /** A thread has ended by itself: a bug. */
  readonly onFatal: (error: Error) => void;
}

/** Starts the threads. What is analysed is the same as without them. */
export function createThreadedAnalyst(options: ThreadedOptions): Analyst {
  const { threads: count, beatEveryMs } = options;
  const threads = Array.from({ length: count }, () => startThread(options));
  let lastRound = 0;
  return {
    async analyse(batches, nowMs, beat) {
      const round = ++lastRound;
      const settle = (isCommitted: boolean) => {
        for (const thread of threads) thread.tell({ type: 'settle', round, isCommitted });
      };
      const parts = batches.map((batch) => shareOut(batch, count));
      const answers = threads.map((thread, k) => {
        const own = batches.map((batch, at) => toBytes(batch, parts[at]?.[k] ?? []));
        return thread.analyse(round, own, nowMs);
      });
      try {
        const analysed = await whileBeating(Promise.all(answers), beat, beatEveryMs);
        return {
          changes: analysed.flatMap(({ changes }) => changes),
          rejects: analysed.flatMap(({ rejects }) => rejects.map((bare) => withBytes(bare, batches))),
          samples: analysed.reduce((sum, { samples }) => sum + samples, 0),
          settle,
        };
      } catch (error) {
        settle(false);
        // Before every thread has let go of these partitions, nobody may begin with them again.
        await Promise.allSettled(answers);
        throw error;
      }
    },
    keepOnly(partitions) {
      for (const thread of threads) thread.tell({ type: 'keep-only', partitions });
    },
    machines: () => threads.reduce((sum, thread) => sum + thread.machines(), 0),
    async close() {
      await Promise.all(threads.map((thread) => thread.end()));
    },
  };
}

/** Messages of each thread: all of a machine go to the same one, also those that are rejected later. */
function shareOut({ messages }: PartitionBatch, count: number): IncomingMessage[][] {
  const parts: IncomingMessage[][] = Array.from({ length: count }, () => []);
  for (const message of messages) parts[count === 1 ? 0 : hashOf(message.key) % count]?.push(message);
  return parts;
}

/** 32-bit FNV-1a. Source: RFC 9923. */
function hashOf(key: Uint8Array | null): number {
  let hash = 0x811c9dc5;
  for (const byte of key ?? []) hash = Math.imul(hash ^ byte, 0x01000193);
  return hash >>> 0;
}

function withBytes(bare: BareReject, batches: readonly PartitionBatch[]): RejectedMessage {
  const batch = batches.find((one) => one.partition === bare.partition && cursorSource(one.topic) === bare.source);
  const message = batch?.messages.find(({ offset }) => offset === bare.offset);
  return { ...bare, key: message?.key?.toString('utf8') ?? null, payload: message?.value ?? noBytes };
}

const noBytes = new Uint8Array(0);

/** Waits for work; throws as soon as a beat does. */
async function whileBeating<T>(work: Promise<T>, beat: () => Promise<void>, everyMs: number): Promise<T> {
  const ended = new AbortController();
  const beating = async (): Promise<never> => {
    for (;;) {
      await beat();
      await sleep(everyMs, undefined, { signal: ended.signal });
    }
  };
  try {
    return await Promise.race([work, beating()]);
  } finally {
    ended.abort();
  }
}

type StoreCall = Extract<FromThread, { type: 'call' }>;

interface Thread {
  tell(message: ToThread): void;
  analyse(round: number, batches: readonly BatchBytes[], nowMs: number): Promise<ThreadAnalysis>;
  /** Machines held when it last answered. */
  machines(): number;
  end(): Promise<void>;
}

function startThread({
  store,
  logger,
  thresholds,
  most,
  threads,
  faultsTopic,
  futureMs,
  onFatal,
}: ThreadedOptions): Thread {
  const workerData: ThreadOptions = { thresholds, most: Math.ceil(most / threads), faultsTopic, futureMs };
  const worker = openThread(workerData);
  const rounds = new Map<number, (outcome: Outcome<ThreadAnalysis>) => void>();
  let machines = 0;
  let isEnding = false;
  const tell = (message: ToThread, transfer: readonly ArrayBuffer[] = []) => worker.postMessage(message, transfer);
  worker.on('message', async (message: FromThread) => {
    if (message.type === 'log') logger[message.level](message.fields, message.message);
    else if (message.type === 'call')
      tell({ type: 'answer', call: message.call, outcome: await callStore(store, message) });
    else {
      rounds.get(message.round)?.(message.outcome);
      rounds.delete(message.round);
    }
  });
  worker.on('error', onFatal);
  worker.on('exit', (code) => {
    if (!isEnding) onFatal(new Error(`a thread that analyses ended with code ${code}`));
  });
  return {
    tell,
    async analyse(round, batches, nowMs) {
      const answer = new Promise<Outcome<ThreadAnalysis>>((resolve) => rounds.set(round, resolve));
      tell(
        { type: 'analyse', round, batches, nowMs },
        batches.map(({ bytes }) => bytes.buffer),
      );
      const analysis = resultOf(await answer);
      machines = analysis.machines;
      return analysis;
    },
    machines: () => machines,
    async end() {
      isEnding = true;
      await worker.terminate();
    },
  };
}

function callStore(store: Store, { method, args }: StoreCall): Promise<Outcome<unknown>> {
  return outcomeOf(() => (store[method as keyof Store] as (...own: unknown[]) => Promise<unknown>).apply(store, args));
}
