import type { AddressInfo } from 'node:net';
import { gzipSync } from 'node:zlib';
import { problemSchema, telemetryLimits, telemetryReceiptSchema } from '@warmbrick/contracts';
import { createTelemetryReceiver } from '@warmbrick/ingest';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { away, type FakeIntake, fakeIntake } from '../ingest/fake-intake.js';
import { startTestApp, type TestApp } from './test-app.js';

const atMs = Date.UTC(2026, 2, 10, 6);
const sample = (s: number) => ({ machineId: 'loader-01', time: atMs + s * 1000, values: { engineSpeedRpm: 900 } });
const json = { 'content-type': 'application/json' };

let intake: FakeIntake;
let t: TestApp;
beforeEach(async () => {
  intake = fakeIntake();
  t = await startTestApp({ telemetry: createTelemetryReceiver({ intake, now: () => atMs + 3_600_000 }) });
});
afterEach(() => t.app.close());

const post = (url: string, payload: string | Buffer, headers: Record<string, string> = json) =>
  t.app.inject({ method: 'POST', url, payload, headers });

/** Asks again while the process turns requests away because its core is busy with other tests. */
async function untilNotOverloaded(ask: () => Promise<Response>): Promise<Response> {
  for (let tries = 0; tries < 20; tries++) {
    const answer = await ask();
    if (answer.status !== 503) return answer;
    await answer.arrayBuffer();
    await new Promise((resolve) => setTimeout(resolve, 500));
  }
  return ask();
}

describe('POST /v1/telemetry and /v1/faults', () => {
  it('answers 200 with a receipt', async () => {
    const answer = await post('/v1/telemetry', JSON.stringify([sample(0), sample(1), { machineId: 'x' }]));
    expect(answer.statusCode).toBe(200);
    expect(telemetryReceiptSchema.parse(answer.json())).toMatchObject({ accepted: 2, rejected: 1 });
    const csv = await post('/v1/telemetry?machineId=loader-02', `time,engineSpeedRpm\n${atMs},900\n`, {
      'content-type': 'text/csv',
    });
    expect(csv.json()).toMatchObject({ accepted: 1, rejected: 0 });
    const report = { machineId: 'a', time: atMs, sourceAddress: 0, kind: 'active', codes: [] };
    expect((await post('/v1/faults', JSON.stringify(report))).json()).toMatchObject({ accepted: 1 });
    expect(intake.values.size).toBe(3);
  });

  it('answers 202 when it only lies in the topics', async () => {
    await t.app.close();
    t = await startTestApp({ telemetry: createTelemetryReceiver({ intake: fakeIntake('produced') }) });
    expect((await post('/v1/telemetry', JSON.stringify(sample(0)))).statusCode).toBe(202);
  });

  it('takes gzip, and bodies far larger than other routes do', async () => {
    const many = JSON.stringify(Array.from({ length: 3000 }, (_, s) => sample(s)));
    expect(many.length).toBeGreaterThan(200_000);
    expect((await post('/v1/telemetry', many)).json()).toMatchObject({ accepted: 3000 });
    const packed = await post('/v1/telemetry', gzipSync(many), { ...json, 'content-encoding': 'gzip' });
    expect(packed.json()).toMatchObject({ accepted: 3000 });
  });

  it('refuses with problems', async () => {
    const bomb = gzipSync(Buffer.alloc(telemetryLimits.bodyBytes + 10, 32));
    const key = { ...json, 'idempotency-key': 'k1' };
    await post('/v1/telemetry', JSON.stringify(sample(0)), key);
    const cases = [
      [400, 'invalid-request', await post('/v1/telemetry', '{"machineId":"a"}')],
      [400, 'invalid-request', await post('/v1/telemetry?machine=a', JSON.stringify(sample(0)))],
      [400, 'invalid-request', await post('/v1/telemetry', '{}', { ...json, 'idempotency-key': 'k'.repeat(300) })],
      [413, 'body-too-large', await post('/v1/telemetry', bomb, { ...json, 'content-encoding': 'gzip' })],
      [415, 'unsupported-media-type', await post('/v1/telemetry', 'a', { 'content-type': 'text/html' })],
      [422, 'idempotency-key-reused', await post('/v1/telemetry', JSON.stringify(sample(1)), key)],
    ] as const;
    for (const [status, code, answer] of cases) {
      expect(answer.headers['content-type']).toMatch(/^application\/problem\+json/);
      expect(problemSchema.parse(answer.json())).toMatchObject({ status, code });
      expect(answer.statusCode).toBe(status);
    }
    expect(cases[0][2].json().errors[0].path).toBe('message 1');
  });

  it('a sender over a real connection is told that its body is too large, and may go on with a smaller one', async () => {
    await t.app.listen({ port: 0, host: '127.0.0.1' });
    const { port } = t.app.server.address() as AddressInfo;
    const url = `http://127.0.0.1:${port}/v1/telemetry`;
    const plain = Buffer.alloc(telemetryLimits.bodyBytes + 5_000_000, 32);
    const packed = gzipSync(Buffer.alloc(60_000_000, 32));
    // Without a length up front, so that only counting can tell.
    const inPieces = (bytes: Buffer) =>
      new ReadableStream({
        start(stream) {
          for (let at = 0; at < bytes.length; at += 65_536) stream.enqueue(bytes.subarray(at, at + 65_536));
          stream.close();
        },
      });
    const cases: [() => BodyInit, Record<string, string>][] = [
      [() => plain, json],
      [() => inPieces(plain), json],
      [() => packed, { ...json, 'content-encoding': 'gzip' }],
      [() => inPieces(packed), { ...json, 'content-encoding': 'gzip' }],
    ];
    for (const [bodyOf, headers] of cases) {
      const initOf = (): RequestInit & { duplex: string } => ({
        method: 'POST',
        body: bodyOf(),
        headers,
        duplex: 'half',
      });
      const answer = await untilNotOverloaded(() => fetch(url, initOf()));
      expect(problemSchema.parse(await answer.json())).toMatchObject({ status: 413, code: 'body-too-large' });
      expect(answer.status).toBe(413);
    }
    const body = JSON.stringify(sample(0));
    const small = await untilNotOverloaded(() => fetch(url, { method: 'POST', body, headers: json }));
    expect(small.status).toBe(200);
  });

  it('a store that is away is 503 with Retry-After', async () => {
    intake.before = () => {
      throw away();
    };
    const answer = await post('/v1/telemetry', JSON.stringify(sample(0)));
    expect(answer.statusCode).toBe(503);
    expect(answer.headers['retry-after']).toBeDefined();
  });

  it('is described, with every kind of body', async () => {
    const { paths } = (await t.app.inject('/openapi.json')).json();
    const { post: telemetry } = paths['/v1/telemetry'];
    expect(Object.keys(telemetry.requestBody.content)).toEqual([
      'application/json',
      'application/x-ndjson',
      'text/csv',
    ]);
    expect(Object.keys(telemetry.responses)).toEqual(
      expect.arrayContaining(['200', '202', '400', '413', '415', '422', '503']),
    );
    expect(paths['/v1/faults'].post.requestBody).toBeDefined();
  });

  it('other routes keep their small bodies and their kinds, and without a receiver there is nothing', async () => {
    t.app.post('/v1/echo', async (request) => request.body);
    expect((await post('/v1/echo', JSON.stringify('x'.repeat(70_000)))).statusCode).toBe(413);
    const bare = await startTestApp();
    expect((await bare.app.inject({ method: 'POST', url: '/v1/telemetry', payload: {} })).statusCode).toBe(404);
    await bare.app.close();
  });
});
