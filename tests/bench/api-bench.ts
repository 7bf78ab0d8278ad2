/** The fleet page under load, and many listeners to the stream, against the API in a process of its own. */

import { type ChildProcess, fork } from 'node:child_process';
import { connect, type Socket } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import autocannon from 'autocannon';
import type { BenchQuestion, BenchServerFacts, BenchUsage } from './api-server.js';

export interface LoadFigures {
  readonly requestsPerS: number;
  readonly p50Ms: number;
  readonly p99Ms: number;
  readonly p999Ms: number;
  /** Answers that were not 2xx, and requests that failed or timed out. */
  readonly failed: number;
  readonly megabytesPerS: number;
  /** Processor time of the API's process as a share of one core. */
  readonly cpuRatio: number;
}

interface StreamFigures {
  readonly clients: number;
  readonly eventsPerS: number;
  readonly delivered: number;
  readonly expected: number;
  readonly lagP50Ms: number;
  readonly lagP99Ms: number;
  readonly residentBeforeMb: number;
  readonly residentAfterMb: number;
  readonly kilobytesPerClient: number;
  readonly cpuRatio: number;
}

export interface ApiFigures {
  readonly machines: number;
  readonly quiet: LoadFigures;
  readonly busy: LoadFigures;
  readonly stream: StreamFigures;
}

const machines = 10_000;
const wantedPerS = 500;
const loadS = 20;
const connections = 50;
/**
 * The loader sends what is due in a second at its beginning. Several of them, begun one after the other, spread the requests over the
 * second, as people do.
 */
const loaders = 25;
/** Machines that change in a second during the busy load, and during the stream. */
const changesPerS = 100;
const clients = 1000;
const streamS = 20;

/** Measures everything. */
export async function measureApi(): Promise<ApiFigures> {
  const script = fileURLToPath(new URL('api-server.ts', import.meta.url));
  const execArgv = ['--conditions=source', '--import', 'tsx', '--expose-gc'];
  const child = fork(script, [String(machines)], { execArgv, stdio: ['ignore', 'inherit', 'inherit', 'ipc'] });
  try {
    const facts = await nextMessage<BenchServerFacts>(child);
    await measureLoad(child, facts, { perS: 0, durationS: 5 });
    const quiet = await measureLoad(child, facts, { perS: 0, durationS: loadS });
    const busy = await measureLoad(child, facts, { perS: changesPerS, durationS: loadS });
    const stream = await measureStream(child, facts);
    return { machines, quiet, busy, stream };
  } finally {
    const isGone = new Promise((resolve) => child.once('exit', resolve));
    ask(child, { ask: 'stop' });
    await Promise.race([isGone, sleep(15_000)]);
    child.kill('SIGKILL');
  }
}

/** Several pages as several people have them open, most of them the first one. */
function requests({ adminKey, fleetKey }: BenchServerFacts): { path: string; headers: Record<string, string> }[] {
  const headersOf = (key: string) => ({ authorization: `Bearer ${key}`, 'accept-encoding': 'br' });
  const whole = [
    '?sort=risk&limit=100',
    '?sort=risk&limit=100',
    '?sort=risk&limit=50',
    '?sort=name&limit=100',
    '?site=site%207',
  ];
  const own = ['?sort=risk&limit=100', '?sort=name&limit=50'];
  return [
    ...whole.map((query) => ({ path: `/v1/machines${query}`, headers: headersOf(adminKey) })),
    ...own.map((query) => ({ path: `/v1/machines${query}`, headers: headersOf(fleetKey) })),
  ];
}

async function measureLoad(
  child: ChildProcess,
  facts: BenchServerFacts,
  { perS, durationS }: { perS: number; durationS: number },
): Promise<LoadFigures> {
  ask(child, { ask: 'publish', perS });
  const before = await usageOf(child);
  const loads = Array.from({ length: loaders }, (_, k) =>
    loadFrom(facts, { startMs: (k * 1000) / loaders, durationS }),
  );
  const results = await Promise.all(loads);
  const after = await usageOf(child);
  ask(child, { ask: 'publish', perS: 0 });
  const tookMs = results.flatMap((each) => each.tookMs).sort((a, b) => a - b);
  const at = (ratio: number) => tookMs[Math.min(tookMs.length - 1, Math.floor(ratio * tookMs.length))] ?? Number.NaN;
  return {
    requestsPerS: tookMs.length / durationS,
    p50Ms: at(0.5),
    p99Ms: at(0.99),
    p999Ms: at(0.999),
    failed: results.reduce((sum, { result }) => sum + result.non2xx + result.errors + result.timeouts, 0),
    megabytesPerS: results.reduce((sum, { result }) => sum + result.throughput.average, 0) / 1e6,
    cpuRatio: (after.cpuS - before.cpuS) / durationS,
  };
}

/** One loader with its share of the connections and the rate, begun a little later than the one before. */
async function loadFrom(facts: BenchServerFacts, { startMs, durationS }: { startMs: number; durationS: number }) {
  await sleep(startMs);
  const tookMs: number[] = [];
  const options = {
    url: `http://127.0.0.1:${facts.port}`,
    connections: connections / loaders,
    duration: durationS,
    overallRate: wantedPerS / loaders,
    requests: requests(facts),
  };
  const result = await new Promise<autocannon.Result>((resolve, reject) => {
    const running = autocannon(options, (error, done) => (error === null ? resolve(done) : reject(error)));
    running.on('response', (_client, _status, _bytes, responseTimeMs) => tookMs.push(responseTimeMs));
  });
  return { tookMs, result };
}

async function measureStream(
  child: ChildProcess,
  { port, adminKey, fleetKey }: BenchServerFacts,
): Promise<StreamFigures> {
  // What was under way when the load ended is told before anybody listens.
  await sleep(3000);
  const before = await usageOf(child);
  const lagsMs: number[] = [];
  const sockets: Socket[] = [];
  for (let n = 0; n < clients; n++) {
    // A tenth listens to everything, the others to one fleet of ten.
    sockets.push(
      await openListener(port, n % 10 === 0 ? adminKey : fleetKey, (sentMs) => lagsMs.push(Date.now() - sentMs)),
    );
  }
  await sleep(500);
  const opened = await usageOf(child);
  ask(child, { ask: 'publish', perS: changesPerS });
  await sleep(streamS * 1000);
  ask(child, { ask: 'publish', perS: 0 });
  await sleep(1500);
  const after = await usageOf(child);
  for (const socket of sockets) socket.destroy();
  const events = after.events - opened.events;
  lagsMs.sort((a, b) => a - b);
  return {
    clients,
    eventsPerS: changesPerS,
    delivered: lagsMs.length,
    expected: events * (clients / 10) + (events / 10) * clients * 0.9,
    lagP50Ms: lagsMs[Math.floor(lagsMs.length * 0.5)] ?? Number.NaN,
    lagP99Ms: lagsMs[Math.floor(lagsMs.length * 0.99)] ?? Number.NaN,
    residentBeforeMb: before.residentMb,
    residentAfterMb: after.residentMb,
    kilobytesPerClient: ((after.residentMb - before.residentMb) * 1000) / clients,
    cpuRatio: (after.cpuS - opened.cpuS) / streamS,
  };
}

function openListener(port: number, key: string, hear: (sentMs: number) => void): Promise<Socket> {
  return new Promise((resolve, reject) => {
    const socket = connect(port, '127.0.0.1');
    socket.on('error', reject);
    socket.write(`GET /v1/stream HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer ${key}\r\n\r\n`);
    socket.setEncoding('utf8');
    let rest = '';
    let isOpen = false;
    socket.on('data', (text: string) => {
      if (!isOpen) {
        if (!text.startsWith('HTTP/1.1 200')) reject(new Error(text.slice(0, 200)));
        isOpen = true;
        resolve(socket);
      }
      rest += text;
      const end = rest.lastIndexOf('\n\n');
      if (end < 0) return;
      for (const [, at = ''] of rest.slice(0, end + 2).matchAll(/"lastSampleAt":"([^"]+)"/g)) hear(Date.parse(at));
      rest = rest.slice(end + 2);
    });
  });
}

function ask(child: ChildProcess, question: BenchQuestion): void {
  child.send(question);
}

async function usageOf(child: ChildProcess): Promise<BenchUsage> {
  const answer = nextMessage<BenchUsage>(child);
  ask(child, { ask: 'usage' });
  return answer;
}

function nextMessage<T>(child: ChildProcess): Promise<T> {
  return new Promise((resolve, reject) => {
    const onExit = (code: number | null) => reject(new Error(`the API of the bench ended with ${code}`));
    child.once('exit', onExit);
    child.once('message', (message) => {
      child.off('exit', onExit);
      resolve(message as T);
    });
  });
}
