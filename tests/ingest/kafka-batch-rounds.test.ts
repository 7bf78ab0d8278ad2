/** The work behind the consumer, on the store of a real PostgreSQL and without Kafka. */

import { setTimeout as sleep } from 'node:timers/promises';
import { builtInThresholds } from '@warmbrick/analysis';
import { cursorSource } from '@warmbrick/ingest';
import type { BatchTools, IncomingMessage, PartitionBatch } from '@warmbrick/kafka';
import { OperatingError } from '@warmbrick/runtime';
import type { CommitExtras, Store } from '@warmbrick/store';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
// Past the index: what a process is made of is tested through it, and this beneath.
import { type Analyst, createAnalyst } from '../../services/ingest/src/kafka/analyst.js';
import { BatchRounds } from '../../services/ingest/src/kafka/batch-rounds.js';
import { createThreadedAnalyst } from '../../services/ingest/src/kafka/threads/threaded-analyst.js';
import type { WorkContext } from '../../services/ingest/src/kafka/work-batches.js';
import { packetMessage } from '../integration/messages.js';
import { quiet } from '../kafka/kafka-provider.js';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { contentsOf, pieces, simulated } from './drive.js';

let server: TestServer;
let store: Store;
beforeAll(async () => {
  server = await startTestServer();
}, 60_000);
afterAll(() => server?.stop());

const topic = 'samples';
const source = cursorSource(topic);
const alive: BatchTools = {
  heartbeat: async () => {},
  isRevoked: () => false,
  behind: () => ({ messages: 0, bytes: 0 }),
};
const limits = { lingerMs: 30, eagerMessages: 1000, eagerBytes: 1e7, roundBytes: 1e7 };

/** The same day for each machine: what the simulator makes hangs on the machine's name. */
const day = simulated('the machine');

function messagesOf(machineId: string, from: number, to: number): IncomingMessage[] {
  return pieces({ ...day, machineId }, 300)
    .slice(from, to)
    .map((part, i) => ({
      offset: from + i,
      timestampMs: 0,
      key: Buffer.from(machineId),
      value: Buffer.from(packetMessage(topic, part).value as string),
    }));
}

interface Part {
  readonly partition: number;
  readonly epoch: number;
  readonly machineId: string;
  readonly from: number;
  readonly to: number;
}

function batchOf({ partition, epoch, machineId, from, to }: Part): PartitionBatch {
  return { topic, partition, epoch, expectedOffset: from, nextOffset: to, messages: messagesOf(machineId, from, to) };
}

/** Each test once with the work in this thread and once in two others. */
let threads = 0;
const analysts: Analyst[] = [];

function analystOn(store: Store): Analyst {
  const plan = {
    store,
    thresholds: builtInThresholds,
    logger: quiet,
    most: 100,
    faultsTopic: 'faults',
    futureMs: 0,
  };
  const onFatal = (error: Error) => {
    throw error;
  };
  const analyst =
    threads === 0 ? createAnalyst(plan) : createThreadedAnalyst({ ...plan, threads, beatEveryMs: 5, onFatal });
  analysts.push(analyst);
  return analyst;
}

function roundsOn(own: Store, loads: string[] = [], lingerMs = limits.lingerMs) {
  const commits: CommitExtras[] = [];
  const counted: Store = {
    ...own,
    loadSnapshot: (machineId) => {
      loads.push(machineId);
      return own.loadSnapshot(machineId);
    },
    commit: async (changes, extras) => {
      commits.push(extras as CommitExtras);
      await own.commit(changes, extras);
    },
  };
  const context: WorkContext = {
    store: counted,
    analyst: analystOn(counted),
    now: Date.now,
    heartbeatMs: 0,
    publishRejects: async () => {},
  };
  let fenced = 0;
  const rounds = new BatchRounds({
    context,
    limits: { ...limits, lingerMs },
    onCommitted: () => {},
    onFenced: () => fenced++,
  });
  return { rounds, commits, loads, fenced: () => fenced };
}

describe.each([0, 2])('batches of many partitions, with %i threads', (count) => {
  beforeAll(async () => {
    threads = count;
    store = await server.openOn(await server.freshDatabase());
  });
  afterAll(() => Promise.all(analysts.splice(0).map((analyst) => analyst.close())));

  it('share a transaction that moves all their cursors', async () => {
    const { rounds, commits } = roundsOn(store);
    const claims = await Promise.all([0, 1, 2].map((partition) => store.claim(source, partition)));
    const parts = claims.map(({ epoch }, partition) => ({
      partition,
      epoch,
      machineId: `shared-${partition}`,
      from: 0,
      to: 26,
    }));
    // Made beforehand, so that they come together however slow the making is.
    const batches = parts.map(batchOf);
    await Promise.all(batches.map((batch) => rounds.take(batch, alive)));
    expect(commits.map(({ cursors }) => cursors?.length)).toEqual([3]);
    expect((await contentsOf(store, 'shared-1')).findings.length).toBeGreaterThan(0);
    expect((await store.claim(source, 1)).nextOffset).toBe(26);
  });

  it('are tried one by one when another has taken one of them', async () => {
    const { rounds, fenced } = roundsOn(store);
    const [ours, lost] = [await store.claim(source, 10), await store.claim(source, 11)];
    await store.claim(source, 11);
    const outcomes = await Promise.allSettled([
      rounds.take(batchOf({ partition: 10, epoch: ours.epoch, machineId: 'ours', from: 0, to: 4 }), alive),
      rounds.take(batchOf({ partition: 11, epoch: lost.epoch, machineId: 'lost', from: 0, to: 4 }), alive),
    ]);
    expect(outcomes.map(({ status }) => status)).toEqual(['fulfilled', 'rejected']);
    expect((outcomes[1] as PromiseRejectedResult).reason).toMatchObject({ code: 'fenced' });
    expect(fenced()).toBe(2);
    expect(await store.getMachine('ours')).not.toBeNull();
    expect(await store.getMachine('lost')).toBeNull();
  });

  it('keep their states over a join that left the partition with us, and load them when it did not', async () => {
    const { rounds, loads } = roundsOn(store);
    const work = async (epoch: number, from: number) =>
      rounds.take(batchOf({ partition: 20, epoch, machineId: 'kept', from, to: from + 2 }), alive);
    const first = await store.claim(source, 20);
    await work(first.epoch, 0);
    await work(first.epoch, 2);
    const next = await store.claim(source, 20);
    await work(next.epoch, 4);
    expect(loads).toEqual(['kept']);
    await store.claim(source, 20);
    const back = await store.claim(source, 20);
    await work(back.epoch, 6);
    expect(loads).toEqual(['kept', 'kept']);
  });

  it('that were taken away are not worked on, and a heartbeat that fails ends the work', async () => {
    const { rounds, commits } = roundsOn(store);
    const { epoch } = await store.claim(source, 30);
    const part = { partition: 30, epoch, machineId: 'away', from: 0, to: 4 };
    await expect(rounds.take(batchOf(part), { ...alive, isRevoked: () => true })).rejects.toMatchObject({
      code: 'fenced',
    });
    const failing = { ...alive, heartbeat: () => Promise.reject(new Error('not a member')) };
    await expect(rounds.take(batchOf(part), failing)).rejects.toThrow('not a member');
    expect(commits).toEqual([]);
    await rounds.take(batchOf(part), alive);
    expect(await store.getMachine('away')).not.toBeNull();
  });

  it('wait for company no longer when enough lies behind them', async () => {
    const { rounds } = roundsOn(store, [], 600_000);
    const { epoch } = await store.claim(source, 50);
    const waiting = { messages: 0, bytes: 0 };
    let isDone = false;
    const batch = batchOf({ partition: 50, epoch, machineId: 'patient', from: 0, to: 2 });
    const done = rounds.take(batch, { ...alive, behind: () => waiting }).then(() => {
      isDone = true;
    });
    waiting.messages = limits.eagerMessages - 3;
    rounds.look();
    await sleep(200);
    expect(isDone).toBe(false);
    waiting.messages++;
    rounds.look();
    await done;
  });

  it('end the same when the store fails before the commit, and after it', async () => {
    const unavailable = () => new OperatingError('gone', { code: 'store-unavailable', isRetriable: true });
    let turn = 0;
    const shaky: Store = {
      ...store,
      commit: async (changes, extras) => {
        turn++;
        if (turn % 3 === 1) throw unavailable();
        await store.commit(changes, extras);
        if (turn % 3 === 2) throw unavailable();
      },
    };
    const outcome = async (machineId: string, partition: number, own: Store) => {
      const { rounds } = roundsOn(own);
      const { epoch } = await store.claim(source, partition);
      for (let from = 0; from < 26; from += 2) {
        const batch = batchOf({ partition, epoch, machineId, from, to: from + 2 });
        for (let isDone = false; !isDone; ) {
          isDone = await rounds.take(batch, alive).then(
            () => true,
            () => false,
          );
        }
      }
      return JSON.parse(JSON.stringify(await contentsOf(store, machineId)).replaceAll(machineId, 'it')) as unknown;
    };
    const steady = await outcome('steady', 40, store);
    expect(steady).toMatchObject({
      findings: expect.arrayContaining([expect.objectContaining({ kind: 'idle-streak' })]),
    });
    turn = 0;
    const again = await outcome('shaken', 41, shaky);
    expect(again).toEqual(steady);
    expect(turn).toBeGreaterThan(26);
  });
});
