import { setTimeout as sleep } from 'node:timers/promises';
import {
  type BatchTools,
  createKafka,
  createProducer,
  ensureTopics,
  type OffsetGap,
  type PartitionBatch,
} from '@warmbrick/kafka';
import { OperatingError } from '@warmbrick/runtime';
import { afterAll, describe, expect, it } from 'vitest';
import { MemoryPositions, startMember, until } from './collect.js';
import { findKafka, quiet, type TestKafka } from './kafka-provider.js';

const found = await findKafka({ nodes: 1 });
afterAll(() => found?.stop());

describe.skipIf(found === null)('the consumer', () => {
  const kafka = (found ?? {}) as TestKafka;

  async function fill(topic: string, count: number, from = 0): Promise<void> {
    const producer = await createProducer(kafka.client('filler'));
    const numbers = Array.from({ length: count }, (_, i) => from + i);
    await Promise.all(numbers.map((n) => producer.send({ topic, key: `SK-${n % 97}`, value: String(n) })));
    await producer.close();
  }

  const numbersOf = (positions: MemoryPositions) =>
    positions.written.map(({ value }) => Number(value?.toString())).sort((a, b) => a - b);
  const upTo = (count: number) => Array.from({ length: count }, (_, i) => i);

  it('reads on where the store stands, not where Kafka thinks', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 100);
    positions.rows.set(`${topic}/0`, { nextOffset: 60, epoch: 7 });
    const first = await startMember(kafka, { positions, groupId, topic });
    await until(() => positions.written.length >= 40, '40 messages');
    await first.stop();
    expect(numbersOf(positions)).toEqual(upTo(100).slice(60));
    expect(first.counts()).toMatchObject({ dropped: 60, claims: 1, messages: 40 });
    // Kafka was told 100; the store, set back as by a restored backup, decides.
    positions.rows.set(`${topic}/0`, { nextOffset: 95, epoch: 9 });
    positions.written.length = 0;
    await fill(topic, 1, 100);
    const second = await startMember(kafka, { positions, groupId, topic });
    await until(() => positions.written.length >= 6, '6 messages');
    await second.stop();
    expect(numbersOf(positions)).toEqual([95, 96, 97, 98, 99, 100]);
    expect(second.counts()).toMatchObject({ seeks: 1, gaps: 0 });
  });

  it('reports messages that are gone, once, and goes on', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 100);
    positions.rows.set(`${topic}/0`, { nextOffset: 10, epoch: 0 });
    await deleteBefore(topic, 40);
    const gaps: OffsetGap[] = [];
    const member = await startMember(kafka, { positions, groupId, topic, onGap: (gap) => gaps.push(gap) });
    await until(() => positions.written.length >= 60, '60 messages');
    await member.stop();
    expect(gaps).toEqual([{ topic, partition: 0, fromOffset: 10, toOffset: 40 }]);
    expect(numbersOf(positions)).toEqual(upTo(100).slice(40));
  });

  it('does not take the marks of transactions for messages that are gone', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    const transactionalId = kafka.freshName('tx');
    const producer = kafka.client('tx').kafka.producer({ transactionalId, idempotent: true, maxInFlightRequests: 1 });
    await producer.connect();
    const member = await startMember(kafka, { positions, groupId, topic, limits: { watchEveryMs: 100 } });
    for (let n = 0; n < 4; n++) {
      const transaction = await producer.transaction();
      await transaction.send({ topic, messages: [{ key: 'SK-1', value: String(n) }] });
      // Every other one is undone: its message and its mark are there and are not handed on.
      await (n % 2 === 0 ? transaction.commit() : transaction.abort());
      if (n % 2 === 0) await until(() => positions.written.length === n / 2 + 1, `message ${n}`);
    }
    await producer.disconnect();
    // Four messages and a mark after each; the log ends with a mark.
    await sleep(500);
    await until(() => member.lag()[0]?.messages === 0, 'no lag behind a mark');
    await fill(topic, 1, 99);
    await until(() => positions.written.length === 3, 'the last message');
    const counts = member.counts();
    await member.stop();
    expect(numbersOf(positions)).toEqual([0, 2, 99]);
    expect(counts).toMatchObject({ gaps: 0, seeks: 0 });
  });

  async function deleteBefore(topic: string, offset: number): Promise<void> {
    const admin = kafka.client('admin').kafka.admin();
    await admin.connect();
    // The client deletes only from topics that it has asked about.
    await admin.fetchTopicOffsets(topic);
    await admin.deleteTopicRecords({ topic, partitions: [{ partition: 0, offset: String(offset) }] });
    await admin.disconnect();
  }

  it('stops for good when the log ends before the position', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 10);
    positions.rows.set(`${topic}/0`, { nextOffset: 500, epoch: 0 });
    const errors: Error[] = [];
    const member = await startMember(kafka, {
      positions,
      groupId,
      topic,
      onFatal: (error) => errors.push(error),
      limits: { shorterLogMs: 500 },
    });
    await until(() => errors.length > 0, 'a fatal error');
    await member.stop();
    expect(errors).toHaveLength(1);
    expect(errors[0]).toMatchObject({ code: 'kafka-log-too-short' });
    expect(positions.written).toEqual([]);
  });

  it('hands on any bytes, and no value at all', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    const producer = await createProducer(kafka.client('poison'));
    await producer.send({ topic, key: 'SK-1', value: Buffer.from([0xff, 0x00, 0x7b]) });
    await producer.close();
    const bare = kafka.client('bare').kafka.producer();
    await bare.connect();
    await bare.send({ topic, messages: [{ key: null, value: null }] });
    await bare.disconnect();
    const member = await startMember(kafka, { positions, groupId, topic });
    await until(() => positions.written.length === 2, '2 messages');
    await member.stop();
    expect(positions.written.map(({ value }) => value)).toEqual([Buffer.from([0xff, 0x00, 0x7b]), null]);
    expect(positions.written[1]?.key).toBeNull();
  });

  it('shares partitions with a second member, keeps most in place, and loses or doubles nothing', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(12), kafka.freshName('group'), new MemoryPositions()];
    const owned: Record<string, number[]> = {};
    const member = (instanceName: string) =>
      startMember(kafka, {
        positions,
        groupId,
        topic,
        instanceName,
        onAssigned: (partitions) => {
          owned[instanceName] = partitions.map(({ partition }) => partition).sort((a, b) => a - b);
        },
      });
    const first = await member('pod-0');
    const second = await member('pod-1');
    await fill(topic, 2000);
    await until(() => owned['pod-0']?.length === 6 && owned['pod-1']?.length === 6, 'six partitions each');
    await until(() => positions.written.length >= 2000, '2000 messages');
    const before = { ...owned };
    const third = await member('pod-2');
    await until(() => [0, 1, 2].every((i) => owned[`pod-${i}`]?.length === 4), 'four partitions each');
    await fill(topic, 2000, 2000);
    await until(() => positions.written.length >= 4000, '4000 messages');
    const stayed = ['pod-0', 'pod-1'].flatMap((name) => owned[name]?.filter((p) => before[name]?.includes(p)) ?? []);
    // Four of twelve must move; eight can stay.
    expect(stayed.length).toBeGreaterThanOrEqual(6);
    await third.stop();
    await until(() => owned['pod-0']?.length === 6 && owned['pod-1']?.length === 6, 'six partitions each again');
    expect(owned['pod-0']).toEqual(before['pod-0']);
    await fill(topic, 500, 4000);
    await until(() => positions.written.length >= 4500, '4500 messages');
    await Promise.all([first.stop(), second.stop()]);
    expect(numbersOf(positions)).toEqual(upTo(4500));
  });

  it('throws away what waits when partitions are taken away, and tells the handler at work', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(2), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 4000);
    const begun: { batch: PartitionBatch; isRevoked: () => boolean; behind: BatchTools['behind']; at: number }[] = [];
    let revokedAt = 0;
    let queued = 0;
    const first = await startMember(kafka, {
      positions,
      groupId,
      topic,
      instanceName: 'pod-0',
      // Many batches wait behind the one at work.
      limits: { bytesPerPartition: 4096, batchesPerPartition: 20, parallelHandlers: 1 },
      onQueued: () => queued++,
      handle: async (batch, { heartbeat, isRevoked, behind }) => {
        begun.push({ batch, isRevoked, behind, at: Date.now() });
        try {
          while (!isRevoked()) {
            await sleep(20);
            await heartbeat();
          }
        } finally {
          revokedAt ||= Date.now();
        }
      },
    });
    await until(() => begun.length === 1 && first.lag().length === 2, 'a batch at work');
    await sleep(500);
    const behind = begun[0]?.behind();
    expect(queued).toBeGreaterThan(0);
    expect(behind?.messages).toBeGreaterThan(0);
    expect(behind?.bytes).toBeGreaterThan(behind?.messages as number);
    const second = await startMember(kafka, { positions, groupId, topic, instanceName: 'pod-1' });
    await until(() => revokedAt > 0, 'a revocation');
    expect(begun).toHaveLength(1);
    expect(begun[0]?.isRevoked()).toBe(true);
    await until(() => begun.length > 1, 'a batch after the new join');
    // The next one begins under a new claim.
    expect(begun[1]?.batch.epoch).toBeGreaterThan(begun[0]?.batch.epoch as number);
    await first.stop();
    await until(() => positions.written.length >= 4000, 'all messages through the second member');
    await second.stop();
    expect(numbersOf(positions)).toEqual(upTo(4000));
  });

  it('pauses a partition whose sink is slow, reads the others on, and stays within its bounds', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(2), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 20_000);
    let isOpen = false;
    const member = await startMember(kafka, {
      positions,
      groupId,
      topic,
      limits: { pauseAfterMs: 100, bytesPerPartition: 4096 },
      handle: async (batch, { heartbeat }) => {
        while (batch.partition === 0 && !isOpen) {
          await sleep(20);
          await heartbeat();
        }
        positions.commit(batch);
      },
    });
    const ofOther = () => positions.written.filter(({ partition }) => partition === 1).length;
    const lagOf = (partition: number) => member.lag().find((lag) => lag.partition === partition);
    await until(() => lagOf(0)?.isPaused === true, 'a pause');
    await until(() => lagOf(1)?.messages === 0 && ofOther() > 0, 'the other partition at its end');
    expect(positions.written.every(({ partition }) => partition === 1)).toBe(true);
    expect(lagOf(0)?.messages).toBeGreaterThan(0);
    isOpen = true;
    await until(() => positions.written.length >= 20_000, 'all messages');
    await until(() => lagOf(0)?.isPaused === false, 'the end of the pause');
    expect(lagOf(0)).toMatchObject({ messages: 0, seconds: 0 });
    const counts = member.counts();
    await member.stop();
    expect(counts.pauses).toBeGreaterThan(0);
    expect(counts.joins).toBe(1);
    expect(numbersOf(positions)).toEqual(upTo(20_000));
  });

  it('gives a partition up when another writer owns it, and claims it anew', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 50);
    const member = await startMember(kafka, { positions, groupId, topic });
    await until(() => positions.written.length === 50, '50 messages');
    // A zombie claims late, and never writes.
    await positions.claim({ topic, partition: 0 });
    await fill(topic, 50, 50);
    await until(() => positions.written.length === 100, '100 messages');
    const counts = member.counts();
    await member.stop();
    expect(counts).toMatchObject({ fenced: 1, claims: 2 });
    expect(numbersOf(positions)).toEqual(upTo(100));
  });

  it('repeats a batch that failed for a reason that passes', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 50);
    let failures = 3;
    const member = await startMember(kafka, {
      positions,
      groupId,
      topic,
      handle: async (batch) => {
        if (failures-- > 0) throw new OperatingError('away', { code: 'store-unavailable', isRetriable: true });
        positions.commit(batch);
      },
    });
    await until(() => positions.written.length === 50, '50 messages');
    await member.stop();
    expect(member.counts()).toMatchObject({ retries: 3, joins: 1 });
  });

  it('ends with the error of a handler that is broken', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 5);
    const errors: Error[] = [];
    const member = await startMember(kafka, {
      positions,
      groupId,
      topic,
      onFatal: (error) => errors.push(error),
      handle: async () => {
        throw new TypeError('a bug');
      },
    });
    await until(() => errors.length > 0, 'a fatal error');
    await member.stop();
    expect(errors.map(({ message }) => message)).toEqual(['a bug']);
  });

  it('is started anew when it stands still, and ends when that does not help', async () => {
    const [topic, groupId, positions] = [await kafka.freshTopic(1), kafka.freshName('group'), new MemoryPositions()];
    await fill(topic, 5);
    const errors: Error[] = [];
    let isHanging = true;
    const member = await startMember(kafka, {
      positions,
      groupId,
      topic,
      onFatal: (error) => errors.push(error),
      limits: { watchEveryMs: 200, stuckAfterMs: 2000, restarts: 2 },
      handle: async (batch) => {
        if (isHanging) await new Promise(() => {});
        positions.commit(batch);
      },
    });
    await until(() => member.counts().restarts === 1, 'a restart');
    isHanging = false;
    await until(() => positions.written.length === 5, 'all messages after the restart');
    expect(errors).toEqual([]);
    isHanging = true;
    await fill(topic, 5, 5);
    await until(() => errors.length > 0, 'a fatal error', 40_000);
    expect(errors).toMatchObject([{ code: 'kafka-consumer-ended' }]);
    await member.stop();
  }, 60_000);

  it('says when no broker answers', async () => {
    const client = createKafka({ brokers: ['127.0.0.1:1'], clientId: 'lost', logger: quiet });
    await expect(ensureTopics(client, [{ topic: 't', partitions: 1, replication: 1 }])).rejects.toMatchObject({
      code: 'kafka-unavailable',
      isRetriable: true,
    });
  }, 40_000);
});
