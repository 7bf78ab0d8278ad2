import { gzipSync } from 'node:zlib';
import {
  type TelemetryAnswer,
  type TelemetryRequest,
  telemetryLimits,
  telemetryReceiptSchema,
} from '@warmbrick/contracts';
import { createTelemetryReceiver, directIntake, type TelemetryReceiverOptions } from '@warmbrick/ingest';
import fc from 'fast-check';
import { describe, expect, it, vi } from 'vitest';
import { createMemoryStore } from '../alerts-api/memory-store.js';
import { contentsOf, simulated, startMs, testIngest } from './drive.js';
import { away, fakeIntake, valuesOf } from './fake-intake.js';

const atMs = Date.UTC(2026, 2, 10, 6);
const at = (s: number) => new Date(atMs + s * 1000).toISOString();
const sample = (s: number, machineId = 'loader-01') => ({
  machineId,
  time: at(s),
  values: { engineSpeedRpm: 900 + s },
});

type Sent = Partial<Omit<TelemetryRequest, 'body'>> & {
  readonly body: string | Uint8Array | AsyncIterable<Uint8Array>;
};

function setUp(options: Partial<TelemetryReceiverOptions> = {}) {
  const intake = fakeIntake();
  const receiver = createTelemetryReceiver({ intake, now: () => atMs + 3_600_000, ...options });
  const send = ({ body, ...more }: Sent) =>
    receiver.receive({
      kind: 'samples',
      contentType: 'application/json',
      contentEncoding: undefined,
      idempotencyKey: undefined,
      machineId: undefined,
      ...more,
      body: typeof body === 'string' || body instanceof Uint8Array ? inPieces(body) : body,
    });
  return { intake, receiver, send };
}

async function* inPieces(body: string | Uint8Array, pieceBytes = 65_536) {
  const bytes = typeof body === 'string' ? Buffer.from(body) : body;
  for (let from = 0; from < bytes.length; from += pieceBytes) yield bytes.subarray(from, from + pieceBytes);
}

function taken(answer: TelemetryAnswer) {
  if (answer.outcome !== 'taken') throw new Error(`refused: ${answer.why}, ${answer.detail}`);
  return telemetryReceiptSchema.parse(answer.receipt);
}

describe('bodies', () => {
  it('one message, an array, lines and CSV of the same samples are the same', async () => {
    const samples = [0, 1, 2].map((s) => sample(s));
    const csv = `time;machineId;engineSpeedRpm\n${samples.map(({ machineId, time, values }) => `${time};${machineId};${values.engineSpeedRpm}`).join('\r\n')}`;
    const packet = {
      machineId: 'loader-01',
      times: samples.map(({ time }) => time),
      channels: { engineSpeedRpm: samples.map(({ values }) => values.engineSpeedRpm) },
    };
    const lines = `\uFEFF${samples.map((each) => JSON.stringify(each)).join('\r\n')}\n\n`;
    const bodies: Sent[] = [
      { body: JSON.stringify(samples) },
      { body: JSON.stringify(packet), contentType: 'application/json; charset=utf-8' },
      { body: lines, contentType: 'application/x-ndjson' },
      { body: csv, contentType: 'text/csv' },
    ];
    const seen = [];
    for (const body of bodies) {
      const { intake, send } = setUp();
      const receipt = taken(await send(body));
      expect(receipt).toMatchObject({ accepted: 3, rejected: 0, rejects: [] });
      seen.push([...intake.values]);
    }
    expect(seen[0]).toHaveLength(3);
    for (const values of seen) expect(values).toEqual(seen[0]);
  });

  it('gzip is read, whichever way it is cut on the wire', async () => {
    const samples = Array.from({ length: 500 }, (_, s) => sample(s));
    const body = gzipSync(JSON.stringify(samples));
    await fc.assert(
      fc.asyncProperty(fc.integer({ min: 1, max: body.length }), async (pieceBytes) => {
        const { intake, send } = setUp();
        const receipt = taken(await send({ body: inPieces(body, pieceBytes), contentEncoding: 'gzip' }));
        expect(receipt.accepted).toBe(500);
        expect(intake.values.size).toBe(500);
      }),
      { numRuns: 20 },
    );
  });

  it('takes what is good of a body that is partly bad, and says where the rest is', async () => {
    const { intake, send } = setUp();
    const body = [
      JSON.stringify(sample(0)),
      '{"machineId":',
      JSON.stringify({ ...sample(1), time: 'yesterday' }),
      JSON.stringify({ machineId: 'loader-01', time: at(2), values: { colour: 3 } }),
      JSON.stringify({
        ...sample(3),
        values: { engineSpeedRpm: 901, exhaustTempC: 9999, coolantTempC: 'warm', hue: 1 },
      }),
      JSON.stringify({ machineId: 'loader-01', times: [at(4), at(9e6)], channels: { engineSpeedRpm: [1, 2] } }),
    ].join('\n');
    const receipt = taken(await send({ body, contentType: 'application/x-ndjson' }));
    expect(receipt.accepted).toBe(3);
    expect(receipt.rejects.map(({ where, reason }) => `${where}: ${reason}`)).toEqual([
      'line 2: bad-json',
      'line 3: bad-time',
      'line 4: no-channels',
      'line 6: future-time',
    ]);
    expect(receipt.droppedValues).toEqual({ unknownChannels: 1, notNumbers: 1, implausible: 1 });
    expect([...intake.values.values()]).toEqual([900, 901, 1]);
  });

  it('CSV: bad lines are counted with their places, none is listed beyond the bound, repeated rows are counted', async () => {
    const { send } = setUp();
    const bad = Array.from({ length: 200 }, () => 'loader-01,yesterday,900').join('\n');
    const body = `machineId,time,engineSpeedRpm,hue\nloader-01,${at(0)},900,1\nloader-01,${at(0)},900,1\n${bad.replaceAll('900', '900,1')}`;
    const receipt = taken(await send({ body, contentType: 'text/csv' }));
    expect(receipt.rejected).toBe(200);
    expect(receipt.rejects[0]).toMatchObject({ where: 'line 4', reason: 'bad-time' });
    expect(receipt.rejects.length).toBeLessThanOrEqual(telemetryLimits.rejectsListed);
    expect(receipt.droppedValues.unknownChannels).toBe(1);
    expect(JSON.stringify(receipt)).not.toContain('/tmp');
  });

  it('CSV without a machine is refused unless the request names it', async () => {
    const { intake, send } = setUp();
    const body = `time,engineSpeedRpm\n${at(0)},900\n`;
    const refused = await send({ body, contentType: 'text/csv' });
    expect(refused).toMatchObject({ outcome: 'refused', why: 'unreadable' });
    expect(JSON.stringify(refused)).toContain('machineId');
    expect(intake.calls).toBe(0);
    expect(taken(await send({ body, contentType: 'text/csv', machineId: 'loader-02' })).accepted).toBe(1);
    expect([...intake.values.keys()]).toEqual([`loader-02 ${atMs} engineSpeedRpm`]);
  });

  it('refuses bodies of which nothing can be taken, and takes nothing in', async () => {
    const { intake, send } = setUp();
    const bodies: Sent[] = [
      { body: '' },
      { body: '[]' },
      { body: '[{"machineId":"a"' },
      { body: '"text"' },
      { body: '{"machineId":"a","time":1}' },
      { body: '\n\n', contentType: 'application/x-ndjson' },
      { body: 'hello', contentType: 'text/csv' },
      { body: 'PAR1nonsense', contentType: 'text/csv' },
      { body: '{"machineId":"a","time":"2026-03-10T06:00:00Z","engineSpeedRpm":9}', contentType: 'text/csv' },
      { body: 'not gzip', contentEncoding: 'gzip' },
      { body: gzipSync('x'.repeat(10_000)).subarray(0, 30), contentEncoding: 'gzip' },
      { body: Buffer.from([0xff, 0xfe, 0x5b]) },
    ];
    for (const body of bodies) {
      const answer = await send(body);
      expect(answer, JSON.stringify(body)).toMatchObject({ outcome: 'refused', why: 'unreadable' });
      expect(answer.outcome === 'refused' && answer.detail.length).toBeGreaterThan(10);
    }
    expect(intake.calls).toBe(0);
  });

  it('refuses kinds and encodings it does not read', async () => {
    const { send } = setUp();
    for (const body of [
      { body: 'a', contentType: 'text/html' },
      { body: 'a', contentType: undefined },
      { body: 'a', contentEncoding: 'br' },
      { body: 'a,b', contentType: 'text/csv', kind: 'faults' as const },
    ])
      expect(await send(body)).toMatchObject({ outcome: 'refused', why: 'unsupported' });
  });

  it('a small body that grows beyond the limit is given up while it still comes', async () => {
    const { send } = setUp();
    const bomb = gzipSync(Buffer.alloc(400 * 1024 * 1024, 32), { level: 9 });
    expect(bomb.length).toBeLessThan(1024 * 1024);
    let handedOut = 0;
    async function* counted() {
      for await (const piece of inPieces(bomb, 1024)) {
        handedOut += piece.length;
        yield piece;
      }
    }
    const before = process.memoryUsage().rss;
    expect(await send({ body: counted(), contentEncoding: 'gzip' })).toMatchObject({ why: 'too-large' });
    // 16 of 400 MiB, and what the streams hold on the way.
    expect(handedOut).toBeLessThan(bomb.length / 4);
    expect(process.memoryUsage().rss - before).toBeLessThan(200 * 1024 * 1024);
    expect(await send({ body: Buffer.alloc(telemetryLimits.bodyBytes + 1, 32) })).toMatchObject({ why: 'too-large' });
  });

  it('never throws for what a sender can do', async () => {
    const contentType = fc.constantFrom('application/json', 'application/x-ndjson', 'text/csv', '', 'x/y');
    const body = fc.oneof(
      fc.uint8Array({ maxLength: 400 }),
      fc.json().map((text) => Buffer.from(text)),
    );
    const kind = fc.constantFrom('samples' as const, 'faults' as const);
    await fc.assert(
      fc.asyncProperty(
        fc.record({ contentType, body, kind, contentEncoding: fc.constantFrom(undefined, 'gzip') }),
        async (sent) => {
          const { send } = setUp();
          expect(['taken', 'refused']).toContain((await send(sent)).outcome);
        },
      ),
      { numRuns: 200 },
    );
  });
});

describe('fault reports and frames', () => {
  const report = {
    machineId: 'loader-01',
    time: at(0),
    sourceAddress: 0,
    kind: 'active',
    codes: [{ spn: 3216, fmi: 4 }],
  };

  it('takes fault reports one, many, and partly bad', async () => {
    const { intake, send } = setUp();
    expect(taken(await send({ kind: 'faults', body: JSON.stringify(report) })).accepted).toBe(1);
    const some = [
      { ...report, time: at(1) },
      { ...report, codes: [{ spn: -1, fmi: 4 }] },
    ];
    const receipt = taken(await send({ kind: 'faults', body: JSON.stringify(some) }));
    expect(receipt).toMatchObject({ accepted: 1, rejected: 1 });
    expect(receipt.rejects[0]).toMatchObject({ where: 'message 2', reason: 'bad-shape' });
    expect([...intake.reports.values()].map(({ timeMs }) => timeMs)).toEqual([atMs, atMs + 1000]);
  });

  // Source: SAE J1939-71, EEC1 (PGN 61444): SPN 190 in bytes 4-5, 0.125 rpm a bit; SAE J1939-73, DM1 (PGN 65226).
  it('reads raw frames: engine speed, and a fault code', async () => {
    const { intake, send } = setUp();
    const frames = [
      { time: at(0), id: '0x0CF00400', data: 'FFFFFF401FFFFFFF' },
      { time: at(0), id: '0x18FECA00', data: '0004900C0401FFFF' },
      { time: at(1), id: '0x0CF00400', data: 'FFFFFF401FFFFFFF' },
    ];
    const receipt = taken(await send({ body: JSON.stringify({ machineId: 'loader-01', frames }) }));
    expect(receipt.accepted).toBeGreaterThan(0);
    expect(new Set(intake.values.values())).toEqual(new Set([1000]));
    const [found] = intake.reports.values();
    expect(found?.codes[0]).toMatchObject({ spn: 3216, fmi: 4, occurrenceCount: 1 });
  });
});

describe('the answer', () => {
  it('comes after the commit', async () => {
    const { intake, send } = setUp();
    let commit = () => {};
    intake.after = () =>
      new Promise<void>((resolve) => {
        commit = resolve;
      });
    let answered = false;
    const answer = send({ body: JSON.stringify(sample(0)) }).finally(() => {
      answered = true;
    });
    await vi.waitFor(() => expect(intake.values.size).toBe(1));
    await new Promise((resolve) => setTimeout(resolve, 20));
    expect(answered).toBe(false);
    commit();
    expect(await answer).toMatchObject({ outcome: 'taken', isCommitted: true });
  });

  it('says when it is only produced, and a failure of ours is an error', async () => {
    const produced = fakeIntake('produced');
    const { send } = setUp({ intake: produced });
    expect(await send({ body: JSON.stringify(sample(0)) })).toMatchObject({ outcome: 'taken', isCommitted: false });
    produced.before = () => {
      throw away();
    };
    await expect(send({ body: JSON.stringify(sample(1)) })).rejects.toMatchObject({ code: 'store-unavailable' });
  });

  it('a commit that takes too long is answered as too busy and goes on; more bodies than the bound are turned away', async () => {
    const { intake, send } = setUp({ settings: { bodies: 2, answerWithinMs: 100 } });
    let release = () => {};
    const held = new Promise<void>((resolve) => {
      release = resolve;
    });
    intake.before = () => held;
    const late = await Promise.all([
      send({ body: JSON.stringify(sample(0)) }),
      send({ body: JSON.stringify(sample(1)) }),
    ]);
    expect(late.map((answer) => answer.outcome === 'refused' && answer.why)).toEqual(['too-busy', 'too-busy']);
    expect(await send({ body: JSON.stringify(sample(2)) })).toMatchObject({ why: 'too-busy' });
    release();
    await vi.waitFor(() => expect(intake.values.size).toBe(2));
    expect(await send({ body: JSON.stringify(sample(2)) })).toMatchObject({ outcome: 'taken' });
  });

  it('samples through the pipeline end as if it had been fed directly', async () => {
    const whole = simulated('m1');
    const expected = createMemoryStore();
    await testIngest(expected).accept([whole]);
    const store = createMemoryStore();
    const { send } = setUp({ intake: directIntake(testIngest(store)), now: () => startMs + 8_000_000 });
    const channels = Object.fromEntries(
      Object.entries(whole.channels).map(([name, column]) => [
        name,
        Array.from(column, (v) => (Number.isNaN(v) ? null : v)),
      ]),
    );
    const body = gzipSync(JSON.stringify({ machineId: 'm1', times: [...whole.timeMs], channels }));
    expect(taken(await send({ body, contentEncoding: 'gzip' })).accepted).toBe(whole.timeMs.length);
    expect(await contentsOf(store, 'm1')).toEqual(await contentsOf(expected, 'm1'));
    expect(valuesOf([whole]).size).toBeGreaterThan(1000);
  });
});

describe('idempotency keys', () => {
  it('the same key and body gets the first answer again, another body is refused', async () => {
    const { intake, send } = setUp();
    const first = await send({ body: JSON.stringify(sample(0)), idempotencyKey: 'k1' });
    const again = await send({
      body: gzipSync(JSON.stringify(sample(0))),
      contentEncoding: 'gzip',
      idempotencyKey: 'k1',
    });
    expect(again).toEqual(first);
    expect(intake.calls).toBe(1);
    expect(await send({ body: JSON.stringify(sample(1)), idempotencyKey: 'k1' })).toMatchObject({ why: 'key-reused' });
    expect(taken(await send({ body: JSON.stringify(sample(1)), idempotencyKey: 'k2' })).accepted).toBe(1);
    expect(intake.calls).toBe(2);
  });

  it('two at once are done once', async () => {
    const { intake, send } = setUp();
    const sent = { body: JSON.stringify(sample(0)), idempotencyKey: 'k1' };
    const [a, b] = await Promise.all([send(sent), send(sent)]);
    expect(b).toEqual(a);
    expect(intake.calls).toBe(1);
  });

  it('a key is free again after a failure or a refusal, and after its time', async () => {
    let nowMs = atMs;
    const { intake, send } = setUp({ now: () => nowMs, settings: { rememberMs: 10_000 } });
    intake.before = () => {
      intake.before = () => {};
      throw away();
    };
    const sent = { body: JSON.stringify(sample(0)), idempotencyKey: 'k1' };
    await expect(send(sent)).rejects.toThrow('away');
    expect(await send({ body: '[]', idempotencyKey: 'k1' })).toMatchObject({ why: 'unreadable' });
    expect((await send(sent)).outcome).toBe('taken');
    expect(await send({ body: JSON.stringify(sample(1)), idempotencyKey: 'k1' })).toMatchObject({ why: 'key-reused' });
    nowMs += 10_001;
    expect((await send({ body: JSON.stringify(sample(1)), idempotencyKey: 'k1' })).outcome).toBe('taken');
  });

  it('remembers no more keys than the bound', async () => {
    const { intake, send } = setUp({ settings: { rememberedKeys: 3 } });
    for (const key of ['a', 'b', 'c', 'd']) await send({ body: JSON.stringify(sample(0)), idempotencyKey: key });
    await send({ body: JSON.stringify(sample(0)), idempotencyKey: 'd' });
    expect(intake.calls).toBe(4);
    await send({ body: JSON.stringify(sample(0)), idempotencyKey: 'a' });
    expect(intake.calls).toBe(5);
  });
});
