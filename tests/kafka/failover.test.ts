import { setTimeout as sleep } from 'node:timers/promises';
import { createProducer } from '@warmbrick/kafka';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { collectFrom, MemoryPositions, startMember, until } from './collect.js';
import { findKafka, type TestKafka } from './kafka-provider.js';
import type { BrokerNode } from './maven-broker.js';

const single = await findKafka({ nodes: 1, needsOwn: true });

afterAll(() => single?.stop());

/** Sends numbers, some each 10 ms, until told to stop; resolves to how many were acknowledged. */
function startStream(kafka: TestKafka, topic: string) {
  let isOver = false;
  const sending = (async () => {
    const producer = await createProducer(kafka.client('stream'), { compression: 'none' });
    const acknowledged: Promise<void>[] = [];
    for (let n = 0; !isOver; n++) {
      acknowledged.push(producer.send({ topic, key: `SK-${n % 11}`, value: String(n) }));
      if (n % 10 === 9) await sleep(10);
    }
    await Promise.all(acknowledged);
    await producer.close();
    return acknowledged.length;
  })();
  return {
    stop: () => {
      isOver = true;
      return sending;
    },
  };
}

async function expectAll(positions: MemoryPositions, count: number): Promise<void> {
  await until(() => positions.written.length >= count, `${count} messages, have ${positions.written.length}`, 60_000);
  const numbers = positions.written.map(({ value }) => Number(value?.toString())).sort((a, b) => a - b);
  expect(numbers).toEqual(Array.from({ length: count }, (_, i) => i));
}

describe.skipIf(single === null)('one broker', () => {
  const kafka = (single ?? {}) as TestKafka;

  it('that is away fills the queue up to its bound, and has everything once it is back', async () => {
    const [topic, node] = [await kafka.freshTopic(2), kafka.nodes[0] as BrokerNode];
    const producer = await createProducer(kafka.client('bounded'), { queuedMessages: 10 });
    await producer.send({ topic, key: 'SK-1', value: 'first' });
    await node.kill();
    const sent = Array.from({ length: 100 }, (_, n) => producer.send({ topic, key: `SK-${n}`, value: String(n) }));
    await sleep(1000);
    expect(producer.stats()).toMatchObject({ queuedMessages: 10, sentMessages: 1, failedMessages: 0 });
    await node.start();
    await Promise.all(sent);
    await producer.close();
    expect(producer.stats()).toMatchObject({ queuedMessages: 0, queuedBytes: 0, sentMessages: 101, failedMessages: 0 });
    expect(await collectFrom(kafka, { topic, count: 101 })).toHaveLength(101);
  }, 60_000);

  it('that does not come back does not keep a producer from closing', async () => {
    const [topic, node] = [await kafka.freshTopic(1), kafka.nodes[0] as BrokerNode];
    const producer = await createProducer(kafka.client('closing'), { queuedMessages: 10 });
    await producer.send({ topic, key: 'SK-1', value: 'first' });
    await node.kill();
    const sent = Array.from({ length: 20 }, () => producer.send({ topic, key: 'SK-1', value: 'more' }));
    const outcomes = Promise.allSettled(sent);
    await producer.close(500);
    for (const outcome of await outcomes) expect(outcome).toMatchObject({ reason: { code: 'kafka-unavailable' } });
    await node.start();
  }, 60_000);

  it('refuses a topic that is not there, and a message that is too large', async () => {
    const topic = await kafka.freshTopic(1);
    const producer = await createProducer(kafka.client('refused'), { compression: 'none' });
    const refused = { code: 'kafka-refused', isRetriable: false };
    await expect(producer.send({ topic: kafka.freshName('absent'), key: 'k', value: '' })).rejects.toMatchObject(
      refused,
    );
    await expect(producer.send({ topic, key: 'k', value: 'x'.repeat(2_000_000) })).rejects.toMatchObject(refused);
    await producer.send({ topic, key: 'k', value: 'small' });
    await producer.close();
    expect(await collectFrom(kafka, { topic, count: 1 })).toHaveLength(1);
  }, 60_000);

  it('that is killed and comes back loses and doubles nothing', async () => {
    const [topic, positions] = [await kafka.freshTopic(3), new MemoryPositions()];
    const member = await startMember(kafka, { positions, groupId: kafka.freshName('group'), topic });
    const stream = startStream(kafka, topic);
    const node = kafka.nodes[0] as BrokerNode;
    for (let round = 0; round < 2; round++) {
      await sleep(1500);
      await node.kill();
      await sleep(500);
      await node.start();
    }
    await sleep(1500);
    const count = await stream.stop();
    expect(count).toBeGreaterThan(500);
    await expectAll(positions, count);
    await member.stop();
    await single?.stop();
  }, 120_000);
});

describe.skipIf(single === null)('three brokers', () => {
  it('of which one is killed and another frozen for a while lose and double nothing', async () => {
    const kafka = (await findKafka({ nodes: 3, needsOwn: true })) as TestKafka;
    try {
      const [topic, positions] = [await kafka.freshTopic(6), new MemoryPositions()];
      const groupId = kafka.freshName('group');
      const members = [
        await startMember(kafka, { positions, groupId, topic, instanceName: 'pod-0' }),
        await startMember(kafka, { positions, groupId, topic, instanceName: 'pod-1' }),
      ];
      const stream = startStream(kafka, topic);
      const [first, second] = kafka.nodes as [BrokerNode, BrokerNode];
      await sleep(2000);
      await first.kill();
      await sleep(5000);
      const whileOneIsGone = positions.written.length;
      // The two that are left go on; how soon hangs on elections, which take their time on a busy machine.
      const goesOn = () => expect(positions.written.length).toBeGreaterThan(whileOneIsGone);
      await vi.waitFor(goesOn, { timeout: 45_000, interval: 250 });
      await first.start();
      await sleep(3000);
      second.pause();
      await sleep(5000);
      second.resume();
      await sleep(2000);
      const count = await stream.stop();
      await expectAll(positions, count);
      await Promise.all(members.map((member) => member.stop()));
    } finally {
      await kafka.stop();
    }
  }, 240_000);
});
