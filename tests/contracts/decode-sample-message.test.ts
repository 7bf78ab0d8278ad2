import { fc, test } from '@fast-check/vitest';
import {
  decodeFaultMessage,
  decodeSampleMessage,
  makeRejectMessage,
  messageLimits,
  messageTimeMs,
  rejectMessageSchema,
  rejectReasons,
  samplesMessageSchema,
} from '@warmbrick/contracts';
import { blockChannels, channelNames, type SampleBlock } from '@warmbrick/signals';
import { describe, expect } from 'vitest';

const arrivalMs = Date.UTC(2026, 2, 1, 6);
const bytesOf = (message: unknown) => new TextEncoder().encode(JSON.stringify(message));
const decode = (message: unknown) => decodeSampleMessage(bytesOf(message), arrivalMs);

function samplesOf(message: unknown) {
  const decoded = decode(message);
  if (decoded.form !== 'samples') throw new Error(`expected samples, got ${JSON.stringify(decoded)}`);
  return decoded;
}

const reasonOf = (message: unknown) => {
  const decoded = decode(message);
  return decoded.form === 'reject' ? decoded.reason : decoded.form;
};

function rowsOf(block: SampleBlock): unknown[] {
  return [...block.timeMs].map((timeMs, i) => [
    timeMs,
    ...blockChannels(block).map((name) => block.channels[name]?.[i]),
  ]);
}

describe('single samples', () => {
  test('are rounded to the step of the wire', () => {
    const { block } = samplesOf({
      machineId: 'SK-07',
      time: '2026-03-01T06:00:00Z',
      values: { engineSpeedRpm: 950.07, engineHours: 12_345.678 },
    });
    expect([...block.timeMs]).toEqual([arrivalMs]);
    // Source: SAE J1939-71, SPN 190 has 0.125 rpm per bit, SPN 247 has 0.05 h per bit.
    expect(block.channels.engineSpeedRpm?.[0]).toBe(950.125);
    expect(block.channels.engineHours?.[0]).toBeCloseTo(12_345.7, 9);
  });

  test('count what cannot be used, and why', () => {
    const { counts, block } = samplesOf({
      machineId: 'SK-07',
      time: arrivalMs,
      values: { engineSpeedRpm: 1e9, engineLoadPct: null, coolantTempC: '84', exhaustTempC: 400, tyreColour: 3 },
    });
    expect(counts).toEqual({ unknownChannels: 1, missing: 1, notNumbers: 1, implausible: 1 });
    expect(block.channels.engineSpeedRpm?.[0]).toBeNaN();
    expect(block.channels.exhaustTempC?.[0]).toBe(400);
  });
});

describe('packets', () => {
  test('give the samples in order of time, joined where two have one time', () => {
    const { block } = samplesOf({
      machineId: 'SK-07',
      times: [arrivalMs + 2000, arrivalMs, arrivalMs + 2000],
      channels: { engineSpeedRpm: [1000, 800, null], engineLoadPct: [null, 10, 40] },
    });
    expect(rowsOf(block)).toEqual([
      [arrivalMs, 800, 10],
      [arrivalMs + 2000, 1000, 40],
    ]);
  });

  test('keep what has a usable time when a clock was wrong in between', () => {
    const decoded = samplesOf({
      machineId: 'SK-07',
      times: [0, arrivalMs, arrivalMs + 2 * 3_600_000, arrivalMs + 1000],
      channels: { engineSpeedRpm: [1, 2, 3, 4] },
    });
    expect(rowsOf(decoded.block)).toEqual([
      [arrivalMs, 2],
      [arrivalMs + 1000, 4],
    ]);
    expect(decoded.leftOut).toEqual([
      { reason: 'bad-time', count: 1 },
      { reason: 'future-time', count: 1 },
    ]);
  });

  test.prop([
    fc.uniqueArray(fc.integer({ min: 0, max: 100_000 }), { minLength: 1, maxLength: 40 }),
    fc.uniqueArray(fc.constantFrom(...channelNames), { minLength: 1, maxLength: 5 }),
    fc.infiniteStream(fc.option(fc.double({ noNaN: true, noDefaultInfinity: true, min: -2000, max: 20_000 }))),
  ])('say the same as their samples one by one', (seconds, names, stream) => {
    const times = seconds.sort((a, b) => a - b).map((s) => arrivalMs - s * 1000);
    const columns = Object.fromEntries(
      names.map((name) => [name, times.map(() => stream.next().value as number | null)]),
    );
    const packet = samplesOf({ machineId: 'm', times, channels: columns });
    const singles = times.map((time, i) =>
      samplesOf({ machineId: 'm', time, values: Object.fromEntries(names.map((n) => [n, columns[n]?.[i]])) }),
    );
    const rows = singles.flatMap(({ block }) => rowsOf(block)).reverse();
    expect(rowsOf(packet.block)).toEqual(rows);
    expect(packet.counts.implausible).toBe(singles.reduce((sum, one) => sum + one.counts.implausible, 0));
  });
});

describe('frames', () => {
  test('are read from numbers and hexadecimal', () => {
    const decoded = decode({
      machineId: 'SK-07',
      bus: 'can1',
      frames: [
        { time: arrivalMs, id: '18FEDF00', data: '7d7dffffffffffff' },
        { time: arrivalMs, id: 0x0cf00400, data: 'f07d7d' },
        { time: arrivalMs, id: 0x20000000, data: '00' },
        { time: arrivalMs, id: '0x18FEDF00', data: 'abc' },
        { time: 5, id: 1, data: '' },
      ],
    });
    expect(decoded).toMatchObject({
      form: 'frames',
      bus: 'can1',
      unusable: 2,
      leftOut: [{ reason: 'bad-time', count: 1 }],
    });
    if (decoded.form !== 'frames') return;
    expect([...decoded.ids]).toEqual([0x18fedf00, 0x0cf00400]);
    expect([...decoded.lengths]).toEqual([8, 3]);
    expect([...decoded.bytes]).toEqual([0x7d, 0x7d, 255, 255, 255, 255, 255, 255, 0xf0, 0x7d, 0x7d, 0, 0, 0, 0, 0]);
  });
});

describe('rejects', () => {
  test('have a reason from the list', () => {
    const ok = { machineId: 'SK-07', time: arrivalMs, values: { engineSpeedRpm: 1 } };
    expect(decodeSampleMessage(Uint8Array.of(0x7b, 0xff, 0x7d), arrivalMs)).toMatchObject({ reason: 'bad-json' });
    expect(decodeSampleMessage(new Uint8Array(0), arrivalMs)).toMatchObject({ reason: 'bad-json' });
    expect(decodeSampleMessage(new Uint8Array(messageLimits.bytes + 1), arrivalMs)).toMatchObject({
      reason: 'too-large',
    });
    expect(reasonOf([ok])).toBe('bad-shape');
    expect(reasonOf({ ...ok, machineId: '' })).toBe('bad-shape');
    expect(reasonOf({ ...ok, machineId: 'a\u0000b' })).toBe('bad-shape');
    expect(reasonOf({ ...ok, values: [1] })).toBe('bad-shape');
    expect(reasonOf({ ...ok, time: '2026-03-01T06:00:00' })).toBe('bad-time');
    expect(reasonOf({ ...ok, time: arrivalMs / 1000 })).toBe('bad-time');
    expect(reasonOf({ ...ok, time: arrivalMs + 3_600_001 })).toBe('future-time');
    expect(reasonOf({ ...ok, values: { tyreColour: 1 } })).toBe('no-channels');
    expect(reasonOf({ machineId: 'SK-07', time: arrivalMs })).toBe('unknown-form');
    expect(reasonOf({ machineId: 'm', times: [arrivalMs], channels: { engineSpeedRpm: [1, 2] } })).toBe('bad-shape');
    expect(reasonOf({ machineId: 'm', times: new Array(10_001).fill(1), channels: {} })).toBe('too-large');
    const names = Array.from({ length: 65 }, (_, i) => [`c${i}`, 1]);
    expect(reasonOf({ ...ok, values: Object.fromEntries(names) })).toBe('too-large');
  });

  test('keep the payload, up to a bound', () => {
    const payload = new Uint8Array(messageLimits.rejectedPayloadBytes + 5).map((_, i) => i * 7);
    const position = { source: 'kafka', topic: 't', partition: 3, offset: 41 };
    const message = makeRejectMessage({ reason: 'bad-json', detail: '', position, key: 'k', payload, atMs: arrivalMs });
    expect(rejectMessageSchema.parse(message)).toEqual(message);
    expect(message).toMatchObject({ isTruncated: true, payloadBytes: payload.length });
    const kept = payload.subarray(0, messageLimits.rejectedPayloadBytes);
    expect(Buffer.from(message.payload, 'base64').equals(kept)).toBe(true);
  });

  test.prop([fc.uint8Array({ maxLength: 50 })])('hold every byte in base64', (payload) => {
    const position = { source: 'kafka', topic: 't', partition: 0, offset: 0 };
    const message = makeRejectMessage({ reason: 'bad-json', detail: '', position, key: null, payload, atMs: 0 });
    expect(message.payload).toBe(Buffer.from(payload).toString('base64'));
  });
});

/** JSON that looks like a message here and there. */
const anyName = fc.oneof(fc.constantFrom(...channelNames, '__proto__', 'constructor'), fc.string());
const anyTime = fc.oneof(fc.jsonValue(), fc.constantFrom(arrivalMs, '2026-03-01T05:59:59.5Z', '2026-02-30T00:00:00Z'));
const anyMessage = fc.record(
  {
    machineId: fc.oneof(fc.constant('m'), fc.jsonValue()),
    time: anyTime,
    values: fc.oneof(fc.dictionary(anyName, fc.jsonValue()), fc.jsonValue()),
    times: fc.oneof(fc.array(anyTime), fc.jsonValue()),
    channels: fc.oneof(fc.dictionary(anyName, fc.oneof(fc.array(fc.jsonValue()), fc.jsonValue())), fc.jsonValue()),
    frames: fc.oneof(
      fc.array(fc.oneof(fc.record({ time: anyTime, id: fc.jsonValue(), data: fc.jsonValue() }), fc.jsonValue())),
    ),
    codes: fc.jsonValue(),
  },
  { requiredKeys: [] },
);

const goodTime = fc
  .integer({ min: Date.UTC(2000, 0), max: arrivalMs + 3_600_000 })
  .chain((ms) => fc.constantFrom<string | number>(ms, new Date(ms).toISOString()));
const goodId = fc.string({ minLength: 1, maxLength: 40 }).filter((id) => /^[ -~]+$/.test(id));
const goodValue = fc.option(fc.double({ noNaN: true, noDefaultInfinity: true }));
const goodName = fc.constantFrom(...channelNames);
const goodFrame = fc.record({
  time: goodTime,
  id: fc
    .integer({ min: 0, max: 0x1fffffff })
    .chain((id) => fc.constantFrom<string | number>(id, id.toString(16), `0x${id.toString(16)}`)),
  data: fc.uint8Array({ maxLength: 8 }).map((data) => Buffer.from(data).toString('hex')),
});
const goodPacket = fc.array(goodTime, { minLength: 1, maxLength: 20 }).chain((times) => {
  const column = fc.array(goodValue, { minLength: times.length, maxLength: times.length });
  const channels = fc.dictionary(goodName, column, { minKeys: 1 });
  return fc.record({ machineId: goodId, times: fc.constant(times), channels });
});
const validMessage = fc.oneof(
  fc.record({ machineId: goodId, time: goodTime, values: fc.dictionary(goodName, goodValue, { minKeys: 1 }) }),
  goodPacket,
  fc.record({ machineId: goodId, frames: fc.array(goodFrame, { minLength: 1, maxLength: 20 }) }),
);

describe('any bytes', () => {
  test.prop([fc.uint8Array({ maxLength: 200 })])('never throw', (payload) => {
    expect(decodeSampleMessage(payload, arrivalMs).form).toBe('reject');
    expect(decodeFaultMessage(payload, arrivalMs).form).toBe('reject');
  });

  test.prop([anyMessage], { numRuns: 2000 })('of anything like a message never throw, and rise strictly', (message) => {
    const decoded = decode(message);
    if (decoded.form === 'reject') expect(rejectReasons).toContain(decoded.reason);
    if (decoded.form === 'samples') {
      const { timeMs, channels } = decoded.block;
      expect(timeMs.length).toBeGreaterThan(0);
      expect([...timeMs].every((t, i) => i === 0 || t > (timeMs[i - 1] as number))).toBe(true);
      for (const column of Object.values(channels)) expect(column.length).toBe(timeMs.length);
    }
    decodeFaultMessage(bytesOf(message), arrivalMs);
  });

  test.prop([validMessage])('that the schema takes are taken', (message) => {
    expect(samplesMessageSchema.safeParse(message).success).toBe(true);
    expect(decode(message)).toMatchObject({ form: 'frames' in message ? 'frames' : 'samples', leftOut: [] });
  });

  test('nested deeply are no JSON or no message', () => {
    const deep = new TextEncoder().encode('['.repeat(1_000_000) + ']'.repeat(1_000_000));
    expect(decodeSampleMessage(deep, arrivalMs).form).toBe('reject');
  });
});

describe('faults', () => {
  test('are read with their defaults', () => {
    const decoded = decodeFaultMessage(
      bytesOf({
        machineId: 'SK-07',
        time: '2026-03-01T05:00:00+01:00',
        sourceAddress: 0,
        kind: 'active',
        codes: [{ spn: 4364, fmi: 18, occurrenceCount: 3 }],
      }),
      arrivalMs,
    );
    expect(decoded).toMatchObject({
      form: 'faults',
      report: {
        timeMs: arrivalMs - 2 * 3_600_000,
        flash: 255,
        lamps: { protect: 'unavailable' },
        codes: [{ spn: 4364, fmi: 18, occurrenceCount: 3, conversionMethod: 0 }],
      },
    });
  });

  test('name the field that is wrong', () => {
    const base = { machineId: 'm', time: arrivalMs, sourceAddress: 0, kind: 'active' };
    const decoded = decodeFaultMessage(bytesOf({ ...base, codes: [{ spn: -1, fmi: 2 }] }), arrivalMs);
    expect(decoded).toMatchObject({ form: 'reject', reason: 'bad-shape' });
    expect((decoded as { detail: string }).detail).toContain('codes.0.spn');
  });
});

describe('times', () => {
  test('follow RFC 3339', () => {
    // Source: RFC 3339, 5.8, the examples.
    expect(messageTimeMs('1985-04-12T23:20:50.52Z')).toBe(Date.UTC(1985, 3, 12, 23, 20, 50, 520));
    expect(messageTimeMs('1996-12-19T16:39:57-08:00')).toBe(Date.UTC(1996, 11, 20, 0, 39, 57));
    expect(messageTimeMs('1990-12-31T23:59:60Z')).toBe(Date.UTC(1991, 0, 1));
    expect(messageTimeMs('1937-01-01T12:00:27.87+00:20')).toBe(Date.UTC(1937, 0, 1, 11, 40, 27, 870));
    for (const text of ['2026-02-29T00:00:00Z', '2026-13-01T00:00:00Z', '2026-01-01T24:00:00Z', '2026-01-01', '']) {
      expect(messageTimeMs(text), text).toBeNaN();
    }
  });

  test.prop([fc.date({ min: new Date(0), max: new Date('2199-12-31'), noInvalidDate: true })])(
    'agree with Date',
    (date) => {
      expect(messageTimeMs(date.toISOString())).toBe(date.getTime());
      expect(messageTimeMs(`${date.toISOString().slice(0, 19)}Z`)).toBe(Math.floor(date.getTime() / 1000) * 1000);
    },
  );
});
