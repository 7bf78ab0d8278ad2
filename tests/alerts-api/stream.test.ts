import { type ClientRequest, get, type IncomingMessage } from 'node:http';
import { type AddressInfo, connect } from 'node:net';
import { createEventHub } from '@warmbrick/alerts-api';
import { findingSchema, machineEventSchema } from '@warmbrick/contracts';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { changeOf, finding } from './fleet.js';
import { startTestApp, type TestApp } from './test-app.js';

let t: TestApp;
const clients: ClientRequest[] = [];
beforeEach(async () => {
  const limits = { streams: 2, heartbeatMs: 40, streamBacklogBytes: 1_500_000, streamGraceMs: 300 };
  t = await startTestApp({ limits, events: createEventHub({ remembered: 8 }) });
  await t.app.listen({ port: 0, host: '127.0.0.1' });
});
afterEach(async () => {
  for (const client of clients.splice(0)) client.destroy();
  await t.app.close();
});

interface Stream {
  readonly answer: IncomingMessage;
  text: string;
  /** id, event and data of each event so far. */
  events(): { id: string; event: string; data: string }[];
}

async function openStream(headers: Record<string, string> = {}): Promise<Stream> {
  const { port } = t.app.server.address() as AddressInfo;
  const answer = await new Promise<IncomingMessage>((resolve, reject) => {
    const client = get({ port, host: '127.0.0.1', path: '/v1/stream', headers }, resolve).on('error', reject);
    clients.push(client);
  });
  answer.setEncoding('utf8').on('error', () => {});
  const stream: Stream = {
    answer,
    text: '',
    events: () =>
      [...stream.text.matchAll(/^id: (.*)\nevent: (.*)\ndata: (.*)\n\n/gm)].map(([, id, event, data]) => ({
        id: id ?? '',
        event: event ?? '',
        data: data ?? '',
      })),
  };
  answer.on('data', (chunk: string) => {
    stream.text += chunk;
  });
  if (answer.statusCode === 200) await vi.waitFor(() => expect(stream.text).toContain('retry:'));
  return stream;
}

const change = (n: number) => changeOf({ machineId: `m${n}`, score: n, fromMs: 0, toMs: 1_700_000_000_000 + n * 1000 });

function publish(from: number, to: number): void {
  for (let n = from; n <= to; n++) t.events.publishChange(change(n));
}

const numbersOf = (stream: Stream) =>
  stream.events().map(({ data }) => machineEventSchema.parse(JSON.parse(data)).scoreValue);

describe('GET /v1/stream', () => {
  // Source: WHATWG HTML, 9.2.6 Interpreting an event stream.
  it('sends findings and machines as they change, in the media type of the standard', async () => {
    const stream = await openStream();
    expect(stream.answer.headers['content-type']).toMatch(/^text\/event-stream/);
    expect(stream.answer.headers['cache-control']).toBe('no-store');
    expect(stream.answer.headers['content-security-policy']).toContain("default-src 'none'");
    t.events.publishChange({ ...change(3), findings: [finding('m3', 1_700_000_000_000)] });
    await vi.waitFor(() => expect(stream.events()).toHaveLength(2));
    const [first, second] = stream.events();
    expect(first?.event).toBe('finding');
    expect(findingSchema.parse(JSON.parse(first?.data ?? '')).machineId).toBe('m3');
    expect(second?.event).toBe('machine');
    expect(machineEventSchema.parse(JSON.parse(second?.data ?? ''))).toMatchObject({ machineId: 'm3', scoreValue: 3 });
  });

  it('resumes after Last-Event-ID without a gap or a repeat', async () => {
    const first = await openStream();
    publish(1, 4);
    await vi.waitFor(() => expect(numbersOf(first)).toEqual([1, 2, 3, 4]));
    const lastSeen = first.events()[1]?.id ?? '';
    publish(5, 6);
    const second = await openStream({ 'last-event-id': lastSeen });
    publish(7, 7);
    await vi.waitFor(() => expect(numbersOf(second)).toEqual([3, 4, 5, 6, 7]));
  });

  it('a client that connects in silence can resume from the id it was greeted with', async () => {
    const first = await openStream();
    const greeting = /^id: (.*)$/m.exec(first.text)?.[1] ?? '';
    publish(1, 1);
    const second = await openStream({ 'last-event-id': greeting });
    await vi.waitFor(() => expect(numbersOf(second)).toEqual([1]));
  });

  it('says resync when the events since are no longer known, or the id is foreign', async () => {
    const first = await openStream();
    publish(1, 1);
    await vi.waitFor(() => expect(first.events()).toHaveLength(1));
    const old = first.events()[0]?.id ?? '';
    publish(2, 12);
    for (const id of [old, 'deadbeef-3', 'nonsense']) {
      const stream = await openStream({ 'last-event-id': id });
      expect(stream.events().map(({ event }) => event)).toEqual(['resync']);
      clients.at(-1)?.destroy();
      await vi.waitFor(() => expect(stream.answer.destroyed).toBe(true));
    }
  });

  it('sends a comment when nothing happens', async () => {
    const stream = await openStream();
    await vi.waitFor(() => expect(stream.text.match(/^: still here$/gm)?.length).toBeGreaterThan(1));
  });

  it('has a limit of streams, and room again when one closes', async () => {
    await openStream();
    await openStream();
    expect((await openStream()).answer.statusCode).toBe(503);
    clients[0]?.destroy();
    await vi.waitFor(async () => expect((await openStream()).answer.statusCode).toBe(200));
  });

  it('drops a listener that does not read, and keeps the others', async () => {
    const good = await openStream();
    const { port } = t.app.server.address() as AddressInfo;
    const slow = connect(port, '127.0.0.1');
    slow.on('error', () => {});
    const isClosed = new Promise<void>((resolve) => slow.on('close', () => resolve()));
    slow.write('GET /v1/stream HTTP/1.1\r\nHost: localhost\r\n\r\n');
    await new Promise((resolve) => slow.once('data', resolve));
    slow.pause();
    const big = {
      ...change(1),
      findings: Array.from({ length: 2000 }, (_, i) => finding('m1', 1_700_000_000_000 + i)),
    };
    await vi.waitFor(
      async () => {
        t.events.publishChange(big);
        await new Promise((resolve) => setTimeout(resolve, 20));
        expect((await connections()) <= 1).toBe(true);
      },
      { timeout: 15_000, interval: 1 },
    );
    slow.resume();
    await isClosed;
    const before = good.events().length;
    publish(9, 9);
    await vi.waitFor(() => expect(good.events().length).toBeGreaterThan(before));
  });

  it('ends when the app closes', async () => {
    const stream = await openStream();
    const ended = new Promise<void>((resolve) => stream.answer.on('end', () => resolve()));
    await t.app.close();
    await ended;
  });
});

function connections(): Promise<number> {
  return new Promise((resolve, reject) =>
    t.app.server.getConnections((error, count) => (error === null ? resolve(count) : reject(error))),
  );
}
