/** A stand-in for the API: serves the built pages and invented answers that keep to the contract. */

import { createReadStream, existsSync } from 'node:fs';
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { extname, join, normalize } from 'node:path';
import type { FindingDocument, MachineEvent, MachineItem, Problem, ResidencySeries } from '@warmbrick/contracts';
import { demoDetail, demoFindings, demoItem, demoResidency } from './demo-answers.js';
import { type DemoMachine, demoMachines } from './demo-machines.js';
import { demoComparison, demoDefAnswer } from './demo-outlook.js';
import { demoSamples } from './demo-samples.js';

/** As strict as the real server: nothing inline, nothing from elsewhere. */
const policy =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; " +
  "form-action 'none'; frame-ancestors 'none'";
const types: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
};

export interface FakeApiOptions {
  readonly siteFolder: string;
  readonly machineCount: number;
  /** The server's clock at the start; it goes on from there. */
  readonly startMs: number;
  readonly port?: number;
}

export interface FakeApi {
  readonly origin: string;
  /** Addresses asked for so far, without those of the site's files. */
  readonly requests: string[];
  nowMs(): number;
  emit(event: 'machine', body: MachineEvent): void;
  emit(event: 'finding', body: FindingDocument): void;
  /** Answers every request for data with this problem, or with null as usual. */
  failWith(problem: Problem | null): void;
  /** Changes what a machine's answers say from now on. */
  patch(machineId: string, change: Partial<MachineItem>): void;
  /** Ends every open stream and refuses new ones, or lets them in again. */
  refuseStreams(isRefused: boolean): void;
  close(): Promise<void>;
}

/** Starts the stand-in on a free port of this machine. */
export async function startFakeApi(options: FakeApiOptions): Promise<FakeApi> {
  const machines = demoMachines(options.machineCount, options.startMs);
  const patches = new Map<string, Partial<MachineItem>>();
  const streams = new Set<ServerResponse>();
  const requests: string[] = [];
  const offsetMs = options.startMs - Date.now();
  const nowMs = () => Date.now() + offsetMs;
  let failure: Problem | null = null;
  let isRefused = false;

  const server = createServer((request, response) => {
    const url = new URL(request.url ?? '/', 'http://localhost');
    response.sendDate = false;
    response.setHeader('date', new Date(nowMs()).toUTCString());
    response.setHeader('content-security-policy', policy);
    response.setHeader('x-content-type-options', 'nosniff');
    if (!url.pathname.startsWith('/v1/')) return sendFile(options.siteFolder, url.pathname, response);
    requests.push(url.pathname + url.search);
    if (url.pathname === '/v1/stream')
      return isRefused ? sendProblem(response, busy) : openStream(request, response, streams);
    if (failure !== null) return sendProblem(response, failure);
    const answer = answerTo(url, machines, patches);
    if (answer === null) sendProblem(response, unknown);
    else sendJson(response, 200, answer);
  });
  await new Promise<void>((resolve) => server.listen(options.port ?? 0, '127.0.0.1', resolve));
  return {
    origin: `http://127.0.0.1:${(server.address() as AddressInfo).port}`,
    requests,
    nowMs,
    emit: (event, body) => {
      for (const stream of streams) stream.write(`event: ${event}\ndata: ${JSON.stringify(body)}\n\n`);
    },
    failWith: (problem) => {
      failure = problem;
    },
    patch: (machineId, change) => void patches.set(machineId, { ...patches.get(machineId), ...change }),
    refuseStreams: (refuse) => {
      isRefused = refuse;
      if (refuse) for (const stream of streams) stream.end();
    },
    close: () => {
      for (const stream of streams) stream.destroy();
      return new Promise((resolve) => {
        server.close(() => resolve());
        server.closeAllConnections();
      });
    },
  };
}

const busy: Problem = { type: 'about:blank', title: 'Too many streams', status: 503, code: 'busy' };
const unknown: Problem = {
  type: 'about:blank',
  title: 'No such machine',
  status: 404,
  detail: 'No machine with this id has sent anything.',
  code: 'machine-unknown',
};

type Patches = ReadonlyMap<string, Partial<MachineItem>>;

function answerTo(url: URL, machines: readonly DemoMachine[], patches: Patches): unknown {
  const [, , collection, id, part] = url.pathname.split('/').map(decodeURIComponent);
  if (collection === 'alerts') return { items: [], nextCursor: null };
  if (collection === 'fleets') return { items: [] };
  if (collection !== 'machines') return null;
  if (id === undefined) return listOf(url.searchParams, machines, patches);
  const machine = machines.find((candidate) => candidate.machineId === id);
  if (machine === undefined) return null;
  const time = (name: string, otherwise: number) => Date.parse(url.searchParams.get(name) ?? '') || otherwise;
  const fromMs = time('from', machine.lastSampleMs - 86_400_000);
  const toMs = time('to', machine.lastSampleMs);
  if (part === undefined) return { ...demoDetail(machine), ...patches.get(id) };
  if (part === 'findings') return findingsOf(url.searchParams, machine);
  if (part === 'residency') {
    const bucket = (url.searchParams.get('bucket') ?? 'hour') as ResidencySeries['bucket'];
    return demoResidency(machine, bucket, fromMs, toMs);
  }
  if (part === 'def') return demoDefAnswer(machine);
  if (part === 'comparison') return demoComparison(machine);
  if (part !== 'samples') return null;
  const channels = (url.searchParams.get('channels') ?? '').split(',');
  return demoSamples(machine, { fromMs, toMs, channels, buckets: Number(url.searchParams.get('buckets') ?? 600) });
}

function listOf(query: URLSearchParams, machines: readonly DemoMachine[], patches: Patches) {
  const limit = Number(query.get('limit') ?? 50);
  const first = Number(query.get('cursor') ?? 0);
  const byName = query.get('sort') === 'name';
  const items = machines
    .filter((machine) => query.get('site') === null || machine.site === query.get('site'))
    .map((machine) => ({ ...demoItem(machine), ...patches.get(machine.machineId) }))
    .sort((a, b) => (byName ? a.name.localeCompare(b.name) : (b.score?.value ?? -1) - (a.score?.value ?? -1)));
  const nextCursor = first + limit < items.length ? String(first + limit) : null;
  return { items: items.slice(first, first + limit), nextCursor };
}

function findingsOf(query: URLSearchParams, machine: DemoMachine) {
  const kinds = query.get('kind')?.split(',');
  const limit = Number(query.get('limit') ?? 100);
  const first = Number(query.get('cursor') ?? 0);
  const fromMs = Date.parse(query.get('from') ?? '') || Number.NEGATIVE_INFINITY;
  const toMs = Date.parse(query.get('to') ?? '') || Number.POSITIVE_INFINITY;
  const items = demoFindings(machine).filter((finding) => {
    const startedMs = Date.parse(finding.startedAt);
    return (kinds === undefined || kinds.includes(finding.kind)) && startedMs >= fromMs && startedMs < toMs;
  });
  return {
    items: items.slice(first, first + limit),
    nextCursor: first + limit < items.length ? String(first + limit) : null,
  };
}

function openStream(request: IncomingMessage, response: ServerResponse, streams: Set<ServerResponse>): void {
  response.writeHead(200, { 'content-type': 'text/event-stream', 'cache-control': 'no-store' });
  response.write('retry: 300\n\n');
  streams.add(response);
  request.on('close', () => streams.delete(response));
}

function sendFile(folder: string, pathname: string, response: ServerResponse): void {
  const asked = join(folder, normalize(pathname));
  const isFile = extname(asked) !== '' && existsSync(asked);
  if (!isFile && pathname.startsWith('/assets/')) {
    sendProblem(response, unknown);
    return;
  }
  const path = isFile ? asked : join(folder, 'index.html');
  response.setHeader('content-type', types[extname(path)] ?? 'application/octet-stream');
  createReadStream(path).pipe(response);
}

function sendJson(response: ServerResponse, status: number, body: unknown): void {
  response.writeHead(status, { 'content-type': status === 200 ? 'application/json' : 'application/problem+json' });
  response.end(JSON.stringify(body));
}

function sendProblem(response: ServerResponse, problem: Problem): void {
  sendJson(response, problem.status, problem);
}
