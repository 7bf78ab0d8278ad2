/** How long from the arrival of the sample that crosses the hour until it is on the stream of the page and at a webhook. */

import type { AddressInfo } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { buildApp, createEventHub, type EventHub } from '@warmbrick/alerts-api';
import { builtInThresholds } from '@warmbrick/analysis';
import { createIngest } from '@warmbrick/ingest';
import { startNotifier } from '@warmbrick/notifier';
import { createLogger } from '@warmbrick/runtime';
import { createColumn, type SampleBlock } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import type { FastifyBaseLogger } from 'fastify';
import { createWorld } from '../integration/ingest-world.js';
import { packetMessage } from '../integration/messages.js';
import type { TestKafka } from '../kafka/kafka-provider.js';
import { destinationOf } from '../notifier/alerts.js';
import { startReceiver } from '../notifier/receiver.js';
import type { TestServer } from '../store/postgres.js';

interface Spread {
  readonly p50Ms: number;
  readonly p99Ms: number;
}

export interface LatencyFigures {
  readonly machines: number;
  readonly page: Spread;
  readonly webhook: Spread;
}

/** Machines cross their hour one after the other over this time, while all of them send a sample a second. */
const machines = 60;
const spreadS = 15;

/** Everything in one process, as `npm start` has it. */
export async function measureEmbedded(server: TestServer): Promise<LatencyFigures> {
  const events = createEventHub();
  const alerting = { now: Date.now, outbox: true, onEvents: events.publishAlerts };
  const store = await server.openOn(await server.freshDatabase(), { alerting });
  const logger = createLogger({ name: 'test', level: 'silent' });
  const ingest = createIngest({ store, thresholds: builtInThresholds, logger });
  try {
    return await measure({ store, events, send: (blocks) => ingest.accept(blocks, { isRecorded: true }) });
  } finally {
    await ingest.close();
  }
}

/** Through Kafka: a member of the ingest group is a process of its own, and so is what shows and tells. */
export async function measureWithKafka(server: TestServer, kafka: TestKafka): Promise<LatencyFigures> {
  const databaseUrl = await server.freshDatabase();
  const world = await createWorld(kafka, { databaseUrl, partitions: 4 });
  const member = world.startMember('one');
  await member.line('assigned');
  const events = createEventHub();
  const store = await server.openOn(databaseUrl);
  const feed = store.followAlerts(events.publishAlerts);
  try {
    return await measure({
      ...{ store, events },
      send: (blocks) => world.send(blocks.map((block) => packetMessage(world.names.samples, block))),
      settled: () => world.drained(),
    });
  } finally {
    await feed.stop();
    await world.stop();
  }
}

interface Way {
  readonly store: Store;
  readonly events: EventHub;
  /** Resolves when the samples are taken or sent. */
  send(blocks: readonly SampleBlock[]): Promise<void>;
  /** Resolves when everything sent is committed. */
  settled?: () => Promise<void>;
}

async function measure({ store, events, send, settled = async () => {} }: Way): Promise<LatencyFigures> {
  const logger = createLogger({ name: 'test', level: 'silent' });
  const app = await buildApp({ store, logger: logger as FastifyBaseLogger, events });
  await app.listen({ host: '127.0.0.1', port: 0 });
  const { port } = app.server.address() as AddressInfo;
  const settings = { mailFrom: 'warm@site.example', webhookAllowedRanges: ['127.0.0.0/8'] };
  const publicUrl = `http://127.0.0.1:${port}`;
  const notifier = await startNotifier({ store, settings, logger, owner: 'test', publicUrl, producer: null });
  const receiver = await startReceiver();
  const onPage = new Map<string, number>();
  const atWebhook = new Map<string, number>();
  receiver.answer = (response) => {
    response.writeHead(200).end();
    for (const body of [...receiver.bodies.values()].at(-1) ?? []) {
      const { data } = JSON.parse(body);
      if (data.rule === 'idle-over-an-hour' && data.step === 'opened') atWebhook.set(data.machineId, performance.now());
    }
  };
  await store.putDestination(destinationOf('d', { address: receiver.url }));
  const stopHearing = new AbortController();
  const hearing = hear(`${publicUrl}/v1/stream`, stopHearing.signal, (id) => onPage.set(id, performance.now()));
  try {
    const sentMs = await idlePastTheHour({ send, settled, isHeard: (id) => onPage.has(id) && atWebhook.has(id) });
    return { machines, page: spreadOf(sentMs, onPage), webhook: spreadOf(sentMs, atWebhook) };
  } finally {
    stopHearing.abort();
    await hearing;
    await notifier.stop();
    await receiver.close();
    await app.close();
  }
}

/** Time at which the sample that crosses the hour was sent, by machine. */
async function idlePastTheHour(way: {
  send: Way['send'];
  settled: () => Promise<void>;
  isHeard: (machineId: string) => boolean;
}): Promise<Map<string, number>> {
  const nowMs = Math.floor(Date.now() / 1000) * 1000;
  const ids = Array.from({ length: machines }, (_, k) => `loader-${k}`);
  const crossesAtS = (k: number) => Math.round((k * spreadS) / machines + 2);
  const past = ids.map((id, k) => idling(id, nowMs - (3600 - crossesAtS(k)) * 1000, 3600 - crossesAtS(k)));
  for (let from = 0; from < machines; from += 20) await way.send(past.slice(from, from + 20));
  await way.settled();
  const sentMs = new Map<string, number>();
  for (let s = 0; s < spreadS + 30 && !ids.every(way.isHeard); s++) {
    const beganMs = performance.now();
    // The sample at a whole hour since the first crosses it.
    for (const [k, id] of ids.entries()) if (s === crossesAtS(k)) sentMs.set(id, beganMs);
    await way.send(ids.map((id) => idling(id, nowMs + s * 1000, 1)));
    await sleep(Math.max(0, 250 - (performance.now() - beganMs)));
  }
  return sentMs;
}

/** An engine that idles, a sample a second. */
function idling(machineId: string, fromMs: number, seconds: number): SampleBlock {
  const fill = (name: 'engineSpeedRpm' | 'engineLoadPct' | 'exhaustTempC', value: number) =>
    createColumn(name, seconds).fill(value);
  return {
    machineId,
    timeMs: Float64Array.from({ length: seconds }, (_, i) => fromMs + i * 1000),
    channels: {
      engineSpeedRpm: fill('engineSpeedRpm', 900),
      engineLoadPct: fill('engineLoadPct', 8),
      exhaustTempC: fill('exhaustTempC', 140),
    },
  };
}

function spreadOf(sentMs: ReadonlyMap<string, number>, heardMs: ReadonlyMap<string, number>): Spread {
  const took = [...sentMs]
    .map(([id, atMs]) => (heardMs.get(id) ?? Number.POSITIVE_INFINITY) - atMs)
    .sort((a, b) => a - b);
  const at = (ratio: number) => Math.round(took[Math.min(took.length - 1, Math.floor(ratio * took.length))] as number);
  return { p50Ms: at(0.5), p99Ms: at(0.99) };
}

async function hear(url: string, signal: AbortSignal, onOpened: (machineId: string) => void): Promise<void> {
  const response = await fetch(url, { signal });
  const reader = (response.body as ReadableStream<Uint8Array>).getReader();
  const decoder = new TextDecoder();
  let rest = '';
  try {
    for (let read = await reader.read(); !read.done; read = await reader.read()) {
      const parts = (rest + decoder.decode(read.value, { stream: true })).split('\n\n');
      rest = parts.pop() ?? '';
      for (const part of parts.filter((text) => text.includes('event: alert'))) {
        const message = JSON.parse(part.slice(part.indexOf('data: ') + 6));
        if (message.step === 'opened' && message.rule === 'idle-over-an-hour') onOpened(message.machineId);
      }
    }
  } catch (error) {
    if (!signal.aborted) throw error;
  }
}
