/** Broken messages among good ones: each becomes a reject, and none stops its partition. */

import { randomBytes } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import { rejectMessageSchema } from '@warmbrick/contracts';
import { cursorSource } from '@warmbrick/ingest';
import type { Store, StoredReject } from '@warmbrick/store';
import kafkajs from 'kafkajs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { collectFrom } from '../kafka/collect.js';
import { findKafka, type TestKafka } from '../kafka/kafka-provider.js';
import type { Child } from '../store/child.js';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { createWorld, type IngestWorld } from './ingest-world.js';

const found = await findKafka({ nodes: 1 });
afterAll(() => found?.stop());

const good = 'grader-7';
const startMs = Date.UTC(2026, 4, 4, 6);
const channels = (length: number) => ({ engineSpeedRpm: Array.from({ length }, () => 1200) });
const single = (at: number | string, values: unknown = { engineSpeedRpm: 1200 }, machineId = good) =>
  JSON.stringify({ machineId, time: at, values });

interface Poison {
  readonly what: string;
  readonly key?: string | Buffer | null;
  readonly value: string | Buffer | null;
  /** Null for what is taken all the same. */
  readonly reason: string | null;
}

const poisons: readonly Poison[] = [
  { what: 'no value', value: null, reason: 'bad-json' },
  { what: 'nothing', value: '', reason: 'bad-json' },
  { what: 'random bytes', value: randomBytes(5000), reason: 'bad-json' },
  { what: 'something packed', value: gzipSync(single(startMs)), reason: 'bad-json' },
  { what: 'JSON cut short', value: single(startMs).slice(0, -5), reason: 'bad-json' },
  {
    what: 'NaN, which JSON has not',
    value: `{"machineId":"${good}","time":${startMs},"values":{"engineSpeedRpm":NaN}}`,
    reason: 'bad-json',
  },
  { what: 'broken UTF-8', value: Buffer.from([0x7b, 0x22, 0xc3, 0x28, 0x22, 0x7d]), reason: 'bad-json' },
  { what: 'a list', value: '[1,2,3]', reason: 'bad-shape' },
  { what: 'null', value: 'null', reason: 'bad-shape' },
  { what: 'very deep JSON', value: `${'['.repeat(200_000)}${']'.repeat(200_000)}`, reason: 'bad-shape' },
  { what: 'no machine', value: JSON.stringify({ time: startMs, values: { engineSpeedRpm: 1 } }), reason: 'bad-shape' },
  {
    what: 'a machine with a zero byte',
    key: 'a\u0000b',
    value: single(startMs, undefined, 'a\u0000b'),
    reason: 'bad-shape',
  },
  { what: 'a machine with half a surrogate', value: single(startMs, undefined, '\ud800'), reason: 'bad-shape' },
  { what: 'the key of another machine', key: 'other', value: single(startMs), reason: 'bad-shape' },
  { what: 'no key', key: null, value: single(startMs), reason: 'bad-shape' },
  { what: 'a key that is no text', key: Buffer.from([0xff, 0x00, 0xfe]), value: single(startMs), reason: 'bad-shape' },
  { what: 'another form', value: JSON.stringify({ machineId: good, time: startMs }), reason: 'unknown-form' },
  { what: 'values that are a list', value: single(startMs, [1, 2]), reason: 'bad-shape' },
  { what: 'no channel that is known', value: single(startMs, { moonPhase: 3 }), reason: 'no-channels' },
  {
    what: 'columns of different lengths',
    value: JSON.stringify({ machineId: good, times: [1, 2, 3], channels: channels(2) }),
    reason: 'bad-shape',
  },
  {
    what: 'too many samples',
    value: JSON.stringify({
      machineId: good,
      times: Array.from({ length: 10_001 }, (_, i) => startMs + i),
      channels: channels(10_001),
    }),
    reason: 'too-large',
  },
  { what: 'the year 1970', value: single(1000), reason: 'bad-time' },
  { what: 'the year 2100', value: single('2100-01-01T00:00:00Z'), reason: 'future-time' },
  { what: 'half an hour ahead', value: single(Date.now() + 30 * 60_000), reason: 'future-time' },
  { what: 'a time that is none', value: single('yesterday'), reason: 'bad-time' },
  {
    what: 'frames of nothing known',
    value: JSON.stringify({ machineId: good, frames: [{ time: startMs, id: 'zzz', data: '00' }] }),
    reason: 'bad-shape',
  },
  { what: '50 MB', value: Buffer.alloc(50 * 1024 * 1024, 0x20), reason: 'too-large' },
  {
    what: 'a packet of which one time is from 1970',
    value: JSON.stringify({ machineId: good, times: [5, startMs + 900_000], channels: channels(2) }),
    reason: 'bad-time',
  },
  {
    what: 'a value that is text',
    value: single(startMs + 901_000, { engineSpeedRpm: 'fast', engineLoadPct: 50 }),
    reason: null,
  },
  { what: 'a value beyond all reason', value: single(startMs + 902_000, { engineSpeedRpm: 1e308 }), reason: null },
  {
    what: 'a machine named like a property',
    key: '__proto__',
    value: single(startMs, undefined, '__proto__'),
    reason: null,
  },
  {
    what: 'a machine that nobody registered',
    key: 'stranger',
    value: single(startMs, undefined, 'stranger'),
    reason: null,
  },
];

const faultPoisons: readonly Poison[] = [
  { what: 'samples in the topic of faults', value: single(startMs), reason: 'unknown-form' },
  {
    what: 'an SPN that does not fit',
    value: JSON.stringify({
      machineId: good,
      time: startMs,
      sourceAddress: 0,
      kind: 'active',
      codes: [{ spn: 1e9, fmi: 1 }],
    }),
    reason: 'bad-shape',
  },
];
const goodFault = JSON.stringify({
  machineId: good,
  time: startMs,
  sourceAddress: 0,
  kind: 'active',
  codes: [{ spn: 3364, fmi: 2 }],
});

describe.skipIf(found === null)('broken messages', () => {
  const kafka = found as TestKafka;
  let server: TestServer;
  let store: Store;
  let world: IngestWorld;
  let member: Child;
  let rejects: StoredReject[];
  let faultRejects: StoredReject[];

  beforeAll(async () => {
    server = await startTestServer();
    const databaseUrl = await server.freshDatabase();
    store = await server.openOn(databaseUrl);
    world = await createWorld(kafka, {
      databaseUrl,
      partitions: 1,
      settings: { 'max.message.bytes': '70000000', 'segment.bytes': '104857600' },
    });
    // The plain client: ours has keys and values always.
    const producer = kafka.client('poisoner').kafka.producer({ allowAutoTopicCreation: false });
    await producer.connect();
    const send = (topic: string, key: string | Buffer | null, value: string | Buffer | null) =>
      producer.send({ topic, messages: [{ key, value, partition: 0 }] });
    // Each between two good ones: offsets 1, 3, 5 ...
    for (const [at, { key = good, value }] of poisons.entries()) {
      await send(world.names.samples, good, single(startMs + at * 1000));
      await send(world.names.samples, key, value);
    }
    await send(world.names.samples, good, single(startMs + poisons.length * 1000));
    for (const { value } of faultPoisons) await send(world.names.faults, good, value);
    await send(world.names.faults, good, goodFault);
    await producer.disconnect();
    member = world.startMember('one');
    await world.drained();
    rejects = await allRejects(world.names.samples);
    faultRejects = await allRejects(world.names.faults);
  }, 180_000);
  afterAll(async () => {
    await world?.stop();
    await server?.stop();
  }, 60_000);

  async function allRejects(topic: string): Promise<StoredReject[]> {
    return [...(await store.listRejects({ limit: 200, source: cursorSource(topic) })).items];
  }

  for (const [at, { what, reason }] of poisons.entries()) {
    it(`${what}: ${reason ?? 'taken'}`, () => {
      expect(rejects.find(({ offset }) => offset === 2 * at + 1)?.reason ?? null).toBe(reason);
    });
  }

  it('are rejects with their payload, cut where it is long', () => {
    const whole = rejects.find(({ offset }) => offset === 5) as StoredReject;
    expect(Buffer.from(whole.payload).equals(poisons[2]?.value as Buffer)).toBe(true);
    const large = rejects.find(({ payloadBytes }) => payloadBytes === 50 * 1024 * 1024);
    expect(large).toMatchObject({ isTruncated: true });
    expect(large?.payload.length).toBe(64 * 1024);
  });

  it('leave the good ones around them whole', async () => {
    const blocks = await store.readSamples({ machineId: good, fromMs: startMs, toMs: startMs + 3_600_000 });
    const times = blocks.flatMap((block) => Array.from(block.timeMs));
    const wanted = Array.from({ length: poisons.length + 1 }, (_, i) => startMs + i * 1000);
    expect(times).toEqual([...wanted, startMs + 900_000, startMs + 901_000, startMs + 902_000]);
  });

  it('leave machines with odd names and machines that nobody registered to be analysed', async () => {
    for (const machineId of ['__proto__', 'stranger']) {
      expect((await store.getMachine(machineId))?.summary.observed.fromMs).toBe(startMs);
    }
  });

  it('are rejected in the topic of faults, too, and the good fault is kept', async () => {
    expect(faultRejects.map(({ reason }) => reason).sort()).toEqual(['bad-shape', 'unknown-form']);
    const { items } = await store.listFaults({ machineId: good, limit: 10 });
    expect(items.map(({ codes }) => codes[0]?.spn)).toEqual([3364]);
  });

  it('are made known in the topic of rejects', async () => {
    const count = poisons.filter(({ reason }) => reason !== null).length + faultPoisons.length;
    expect(rejects.length + faultRejects.length).toBe(count);
    const messages = await collectFrom(kafka, { topic: world.names.rejects, count });
    const told = messages.map(({ value }) => rejectMessageSchema.parse(JSON.parse(String(value))));
    const places = told.map(({ position, reason }) => `${position.topic}/${position.offset} ${reason}`);
    const stored = [...rejects, ...faultRejects].map(
      ({ source, offset, reason }) => `${source.replace('kafka/', '')}/${offset} ${reason}`,
    );
    expect(places.sort()).toEqual(stored.sort());
  });

  it('in a batch of an unknown codec do not get past the broker', async () => {
    // Source: Kafka protocol, record batches: the lowest three bits of the attributes name the codec; 5 is none of them.
    const unknown = 5 as never;
    (kafkajs.CompressionCodecs as Record<number, unknown>)[unknown] = () => ({
      compress: async ({ buffer }: { buffer: Buffer }) => buffer,
    });
    const producer = kafka.client('poisoner').kafka.producer({ allowAutoTopicCreation: false, retry: { retries: 0 } });
    await producer.connect();
    const messages = [{ key: good, value: single(startMs), partition: 0 }];
    await expect(producer.send({ topic: world.names.samples, messages, compression: unknown })).rejects.toThrow();
    await producer.disconnect();
  });

  it('have ended no process', () => {
    expect(member.process.exitCode).toBeNull();
  });
});
