/**
 * Members that freeze and wake when their partition has moved on. Random kills do not find these cases, so they are made on
 * purpose: with processes that are stopped and continued, and with a store whose fence can be taken out.
 */

import { setTimeout as sleep } from 'node:timers/promises';
import { builtInThresholds } from '@warmbrick/analysis';
import { type KafkaIngest, startKafkaIngest } from '@warmbrick/ingest';
import { createProducer } from '@warmbrick/kafka';
import type { CursorMove, Store } from '@warmbrick/store';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { contentsOf, pieces, simulated, testIngest } from '../ingest/drive.js';
import { hasty, until } from '../kafka/collect.js';
import { findKafka, quiet, type TestKafka } from '../kafka/kafka-provider.js';
import type { Child } from '../store/child.js';
import { runSql, startTestServer, type TestServer } from '../store/postgres.js';
import { createWorld, type IngestWorld } from './ingest-world.js';
import { packetMessage } from './messages.js';

const found = await findKafka({ nodes: 1 });
afterAll(() => found?.stop());

const machineId = 'loader-41';
const parts = pieces(simulated(machineId), 300);
const half = Math.floor(parts.length / 2);

describe.skipIf(found === null)('a member that wakes after its partition has moved', () => {
  const kafka = found as TestKafka;
  let server: TestServer;
  let expected: Awaited<ReturnType<typeof contentsOf>>;

  beforeAll(async () => {
    server = await startTestServer();
    const store = await server.openOn(await server.freshDatabase());
    const ingest = testIngest(store);
    for (const part of parts) await ingest.accept([part]);
    expected = await contentsOf(store, machineId);
    expect(expected.findings.length).toBeGreaterThan(0);
  }, 60_000);
  afterAll(() => server?.stop());

  async function withWorld(body: (world: IngestWorld, store: Store) => Promise<void>): Promise<void> {
    const databaseUrl = await server.freshDatabase();
    const store = await server.openOn(databaseUrl);
    const world = await createWorld(kafka, { databaseUrl, partitions: 1 });
    try {
      await body(world, store);
    } finally {
      await world.stop();
    }
  }

  const send = (world: IngestWorld, from: number, to: number) =>
    world.send(parts.slice(from, to).map((part) => packetMessage(world.names.samples, part)));

  async function fencedCount(child: Child): Promise<number> {
    const { metricsPort } = await child.line('metricsPort');
    const page = await (await fetch(`http://127.0.0.1:${metricsPort}/metrics`)).text();
    return Number(/^warmbrick_ingest_fenced_total\S* (\d+)/m.exec(page)?.[1] ?? 0);
  }

  async function untilFenced(child: Child): Promise<void> {
    for (let tries = 0; (await fencedCount(child)) === 0; tries++) {
      if (tries > 150) throw new Error('the woken member was not fenced');
      await sleep(100);
    }
  }

  it('writes nothing when it was frozen with a batch in hand', async () => {
    await withWorld(async (world, store) => {
      const one = world.startMember('one', {
        // Shorter than the session, so that it is over when the partition has moved.
        WARMBRICK_LINGER_MS: '2500',
        WARMBRICK_METRICS_PORT: '0',
        // Seldom, so that it learns of its loss from the store, not from the group.
        WARMBRICK_HEARTBEAT_MS: '1000',
        // In the thread that reads, so that it does not hear of its loss while others analyse.
        WARMBRICK_ANALYSIS_THREADS: '0',
      });
      await one.line('ready');
      await one.line('assigned');
      await send(world, 0, half);
      // A partition is claimed when its first batch is there, which is then held for company.
      for (let tries = 0; (await world.positions()).size === 0; tries++) {
        if (tries > 100) throw new Error('the first batch was not fetched');
        await sleep(50);
      }
      await sleep(300);
      one.process.kill('SIGSTOP');
      expect(await store.getMachine(machineId)).toBeNull();
      const two = world.startMember('two');
      await two.line('ready');
      await world.drained(30_000);
      await send(world, half, parts.length);
      await world.drained(30_000);
      one.process.kill('SIGCONT');
      await untilFenced(one);
      await world.drained(30_000);
      expect(await contentsOf(store, machineId)).toEqual(expected);
    });
  }, 90_000);

  it('holds the next owner up no longer than a transaction may idle, when it was frozen inside one', async () => {
    await withWorld(async (world, store) => {
      const one = world.startMember('one', { WARMBRICK_METRICS_PORT: '0' });
      await one.line('ready');
      await one.line('assigned');
      const lock = new pg.Client({ connectionString: world.databaseUrl });
      await lock.connect();
      // The transaction moves the cursor first, and then waits here, with the cursor's row in its hand.
      await lock.query('BEGIN');
      await lock.query('LOCK TABLE analyzer_state IN ACCESS EXCLUSIVE MODE');
      await send(world, 0, half);
      const waitsForLock = `SELECT 1 FROM pg_stat_activity WHERE wait_event_type = 'Lock' AND query LIKE '%analyzer_state%'
        AND pid <> pg_backend_pid()`;
      for (let tries = 0; (await runSql(world.databaseUrl, waitsForLock)).length === 0; tries++) {
        if (tries > 100) throw new Error('the member did not get as far as its states');
        await sleep(50);
      }
      one.process.kill('SIGSTOP');
      await lock.query('COMMIT');
      await lock.end();
      const frozenMs = Date.now();
      const two = world.startMember('two');
      await two.line('ready');
      await send(world, half, parts.length);
      await world.drained(30_000);
      // A session of three seconds, a transaction that may idle for five, and the time it takes to start a process.
      expect(Date.now() - frozenMs).toBeLessThan(20_000);
      one.process.kill('SIGCONT');
      await sleep(1000);
      expect(await contentsOf(store, machineId)).toEqual(expected);
    });
  }, 90_000);

  /** A store that lets every commit pass: what it would be without epochs. */
  function withoutFence(store: Store, databaseUrl: string): Store {
    const now = async (move: CursorMove): Promise<CursorMove> => {
      const [row] = await runSql(
        databaseUrl,
        'SELECT epoch, next_offset FROM ingest_cursor WHERE source = $1 AND "partition" = $2',
        [move.source, move.partition],
      );
      return { ...move, epoch: Number(row?.epoch), nextOffset: Math.max(move.nextOffset, Number(row?.next_offset)) };
    };
    return {
      ...store,
      commit: async (changes, extras) => {
        const { cursors = [], ...rest } = (extras ?? {}) as { cursors?: readonly CursorMove[] };
        await store.commit(changes, { ...rest, cursors: await Promise.all(cursors.map(now)) });
      },
    };
  }

  /** The first owner's commit hangs until the second has done everything, and then goes through, or not. */
  async function lateCommit(store: Store, world: IngestWorld): Promise<KafkaIngest[]> {
    let open: () => void = () => {};
    const gate = new Promise<void>((resolve) => {
      open = resolve;
    });
    let isHeld = false;
    const held: Store = {
      ...store,
      commit: async (changes, extras) => {
        isHeld = isHeld || changes.length > 0;
        if (changes.length > 0) await gate;
        await store.commit(changes, extras);
      },
    };
    const producer = await createProducer(kafka.client('rejects'));
    const start = (instanceName: string, own: Store) =>
      startKafkaIngest({
        client: kafka.client(instanceName),
        producer,
        store: own,
        thresholds: builtInThresholds,
        logger: quiet,
        onFatal: (error) => {
          throw error;
        },
        settings: {
          instanceName,
          groupId: world.groupId,
          samplesTopic: world.names.samples,
          faultsTopic: world.names.faults,
          rejectsTopic: null,
          lingerMs: 0,
          consumer: { ...hasty, stopWithinMs: 300 },
        },
      });
    const one = await start('one', held);
    await send(world, 0, half);
    await until(() => isHeld, 'the first commit is under way');
    // It leaves the group without waiting for what is under way, as a member does that is thought dead.
    await one.stop();
    const two = await start('two', store);
    await world.drained(30_000);
    await send(world, half, parts.length);
    await world.drained(30_000);
    open();
    await sleep(1000);
    await two.stop();
    await producer.close();
    return [one, two];
  }

  it('is turned away by the fence, and would do harm without it', async () => {
    await withWorld(async (world, store) => {
      const [one] = await lateCommit(store, world);
      expect(one?.stats().fencedCommits).toBe(1);
      expect(await contentsOf(store, machineId)).toEqual(expected);
    });
    await withWorld(async (world, store) => {
      const [one] = await lateCommit(withoutFence(store, world.databaseUrl), world);
      expect(one?.stats().fencedCommits).toBe(0);
      expect(await contentsOf(store, machineId)).not.toEqual(expected);
    });
  }, 120_000);
});
