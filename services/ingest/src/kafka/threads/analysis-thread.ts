/** A thread that analyses: an analyst of its own, behind messages. It reads the store through the thread that asks. */

import { type MessagePort, parentPort, type TransferListItem, workerData } from 'node:worker_threads';
import type { MachineChange, Store } from '@warmbrick/store';
import type { IngestLogger } from '../../ingest-types.js';
import { type Analysed, createAnalyst } from '../analyst.js';
import { fromBytes } from './batch-bytes.js';
import {
  type FromThread,
  type Outcome,
  outcomeOf,
  resultOf,
  type ThreadOptions,
  type ToThread,
} from './thread-messages.js';

if (parentPort === null) throw new Error('analysis-thread.js is run as a thread only');
serve(parentPort, workerData as ThreadOptions);

function serve(port: MessagePort, options: ThreadOptions): void {
  const send = (message: FromThread, transfer: readonly TransferListItem[] = []) => port.postMessage(message, transfer);
  const calls = new Map<number, (outcome: Outcome<unknown>) => void>();
  const analyst = createAnalyst({ ...options, store: distantStore(send, calls), logger: distantLogger(send) });
  /** Rounds under way, those given up among them, and rounds whose commit is awaited. */
  const underWay = new Map<number, { isGivenUp: boolean }>();
  const analysedRounds = new Map<number, Analysed>();

  const analyse = async ({ round, nowMs, batches }: ToThread & { type: 'analyse' }) => {
    const standing = { isGivenUp: false };
    const checkStanding = async () => {
      if (standing.isGivenUp) throw new Error('the round was given up');
    };
    underWay.set(round, standing);
    try {
      const analysed = await analyst.analyse(batches.map(fromBytes), nowMs, checkStanding);
      if (standing.isGivenUp) analysed.settle(false);
      else analysedRounds.set(round, analysed);
      const { changes, samples } = analysed;
      const rejects = analysed.rejects.map(({ payload: _payload, key: _key, ...bare }) => bare);
      return { changes, rejects, samples, machines: analyst.machines() };
    } finally {
      underWay.delete(round);
    }
  };
  const settle = (round: number, isCommitted: boolean) => {
    const standing = underWay.get(round);
    if (standing !== undefined) standing.isGivenUp = true;
    analysedRounds.get(round)?.settle(isCommitted);
    analysedRounds.delete(round);
  };

  port.on('message', async (message: ToThread) => {
    switch (message.type) {
      case 'analyse': {
        const outcome = await outcomeOf(() => analyse(message));
        send(
          { type: 'analysed', round: message.round, outcome },
          'value' in outcome ? memoryOf(outcome.value.changes) : [],
        );
        return;
      }
      case 'settle':
        settle(message.round, message.isCommitted);
        return;
      case 'keep-only':
        analyst.keepOnly(message.partitions);
        return;
      case 'answer':
        calls.get(message.call)?.(message.outcome);
        calls.delete(message.call);
    }
  });
}

type Send = (message: FromThread) => void;

/** A store whose methods are called where it is open. */
function distantStore(send: Send, calls: Map<number, (outcome: Outcome<unknown>) => void>): Store {
  let lastCall = 0;
  const ask = (method: string, args: unknown[]) =>
    new Promise<Outcome<unknown>>((resolve) => {
      lastCall++;
      calls.set(lastCall, resolve);
      send({ type: 'call', call: lastCall, method, args });
    });
  return new Proxy({} as Store, {
    get: (_, method) =>
      typeof method === 'string' && method !== 'then'
        ? async (...args: unknown[]) => resultOf(await ask(method, args))
        : undefined,
  });
}

function distantLogger(send: Send): IngestLogger {
  const log = (level: keyof IngestLogger) => (fields: object, message: string) =>
    send({ type: 'log', level, fields, message });
  return { info: log('info'), warn: log('warn'), error: log('error') };
}

/** The memory of all bytes in changes: it changes hands, and nothing is copied. */
function memoryOf(changes: readonly MachineChange[]): ArrayBuffer[] {
  const pieces = new Set<ArrayBuffer>();
  const add = (bytes: Uint8Array | null) => {
    if (bytes !== null) pieces.add(bytes.buffer as ArrayBuffer);
  };
  for (const { packed } of changes) {
    add(packed?.state ?? null);
    for (const { bytes } of packed?.chunks ?? []) add(bytes);
    for (const { body } of packed?.keptStates ?? []) add(body);
  }
  return [...pieces];
}
