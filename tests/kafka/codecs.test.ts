import {
  type Compression,
  compressions,
  compressSnappy,
  createProducer,
  decompressSnappy,
  type IncomingMessage,
} from '@warmbrick/kafka';
import { afterAll, describe, expect, it } from 'vitest';
import { collectFrom } from './collect.js';
import { findKafka, type TestKafka } from './kafka-provider.js';
import { runJava } from './maven-broker.js';

const kafka = await findKafka({ nodes: 1, needsOwn: true });
afterAll(() => kafka?.stop());

describe('snappy', () => {
  it('reads frames and bare blocks', async () => {
    const plain = Buffer.from('brick '.repeat(20_000));
    expect((await decompressSnappy(await compressSnappy(plain))).equals(plain)).toBe(true);
    // Source: google/snappy, format_description.txt: length 9, a literal of 3, a copy of 6 from 3 back.
    const bare = Buffer.from([9, 0x08, 0x61, 0x62, 0x63, 0x09, 3]);
    expect((await decompressSnappy(bare)).toString()).toBe('abcabcabc');
    expect((await decompressSnappy(await compressSnappy(Buffer.alloc(0)))).length).toBe(0);
  });

  it('refuses damage', async () => {
    const framed = await compressSnappy(Buffer.from('brick '.repeat(100)));
    await expect(decompressSnappy(framed.subarray(0, -3))).rejects.toThrow('longer than its batch');
    await expect(decompressSnappy(Buffer.from([255, 255, 255, 255, 15, 1]))).rejects.toThrow('impossible length');
  });
});

describe.skipIf(kafka === null)('batches of every codec', () => {
  const { freshTopic, client } = (kafka ?? {}) as TestKafka;
  const values = Array.from(
    { length: 1000 },
    (_, i) => `{"machineId":"SK-${i % 7}","n":${i},"pad":"${'x'.repeat(90)}"}`,
  );
  const texts = (messages: readonly IncomingMessage[]) => messages.map(({ value }) => value?.toString()).sort();

  it.each(compressions)('%s is written and read', async (compression: Compression) => {
    const topic = await freshTopic(2);
    const producer = await createProducer(client('codecs'), { compression });
    await Promise.all(values.map((value, i) => producer.send({ topic, key: `SK-${i % 7}`, value })));
    await producer.close();
    const messages = await collectFrom(kafka as TestKafka, { topic, count: values.length });
    expect(texts(messages)).toEqual([...values].sort());
  });

  it('of the Java client are read', async () => {
    for (const compression of ['gzip', 'snappy', 'lz4', 'zstd']) {
      const topic = await freshTopic(1);
      const said = await runJava(kafka?.jars as string, 'org.apache.kafka.tools.ProducerPerformance', [
        ...['--topic', topic, '--num-records', '1000', '--throughput', '-1', '--record-size', '300'],
        ...[
          '--producer-props',
          `bootstrap.servers=${kafka?.brokers[0]}`,
          `compression.type=${compression}`,
          'linger.ms=50',
        ],
      ]);
      expect(said).toContain('1000 records sent');
      const messages = await collectFrom(kafka as TestKafka, { topic, count: 1000 });
      expect(messages.every(({ value }) => value?.length === 300 && /^[A-Z]+$/.test(value.toString()))).toBe(true);
    }
  });

  it('of ours are read by the Java client', async () => {
    for (const compression of compressions) {
      const topic = await freshTopic(1);
      const producer = await createProducer(client('codecs'), { compression });
      await Promise.all(values.map((value) => producer.send({ topic, key: 'SK-1', value })));
      await producer.close();
      const said = await runJava(kafka?.jars as string, 'org.apache.kafka.tools.consumer.ConsoleConsumer', [
        ...['--bootstrap-server', kafka?.brokers[0] as string, '--topic', topic, '--from-beginning'],
        ...['--max-messages', '1000', '--timeout-ms', '20000'],
      ]);
      expect(said.trim().split('\n'), compression).toEqual(values);
    }
  });
});
