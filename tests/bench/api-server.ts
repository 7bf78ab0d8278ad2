/** The API for the bench, in a process of its own: 10 000 machines on an embedded database, some of which go on changing. */

import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { buildApp, createEventHub } from '@warmbrick/alerts-api';
import { createLogger } from '@warmbrick/runtime';
import { machineProfileSchema } from '@warmbrick/signals';
import { type MachineChange, openStore, type Store, startEmbeddedPostgres } from '@warmbrick/store';
import { makeKey } from '../../services/alerts-api/src/access/key-text.js';
import { changeOf, emptyRow, finding, quarterMs } from '../alerts-api/fleet.js';

/** What the process says when asked, and what it is asked. */
export type BenchQuestion = { readonly ask: 'usage' | 'stop' } | { readonly ask: 'publish'; readonly perS: number };

export interface BenchUsage {
  readonly cpuS: number;
  readonly residentMb: number;
  readonly events: number;
}

export interface BenchServerFacts {
  readonly port: number;
  readonly adminKey: string;
  /** Key for one of ten fleets. */
  readonly fleetKey: string;
}

const fleets = 10;
const perCommit = 500;
const dayRows = 96;
const nowMs = Math.floor(Date.now() / quarterMs) * quarterMs;

/** A machine with a whole day behind it, scored by its number. */
function machineDay(number: number, atMs: number): MachineChange {
  const rows = Array.from({ length: dayRows }, (_, i) =>
    emptyRow(nowMs - (dayRows - i) * quarterMs, {
      runningS: 900,
      idleS: i % 900,
      inS: 300,
      belowS: 600,
      offS: 0,
      fuelL: 3,
    }),
  );
  const machineId = `bench-${number}`;
  const findings = number % 4 === 0 ? [finding(machineId, nowMs - 3_600_000)] : [];
  return {
    ...changeOf({ machineId, fromMs: nowMs - 86_400_000, toMs: atMs, score: (number * 7919) % 101 }),
    rows,
    findings,
  };
}

async function fill(store: Store, machines: number): Promise<void> {
  for (let first = 0; first < machines; first += perCommit) {
    const changes = Array.from({ length: Math.min(perCommit, machines - first) }, (_, i) =>
      machineDay(first + i, nowMs),
    );
    await store.commit(changes);
    for (const { machineId } of changes) {
      const number = Number(machineId.split('-')[1]);
      const profile = machineProfileSchema.parse({ site: `site ${number % 40}`, fleet: `fleet-${number % fleets}` });
      await store.putMachine(machineId, profile);
    }
  }
}

async function makeBenchKey(store: Store, role: string, scope: 'all' | readonly string[]): Promise<string> {
  const { keyId, text, secret } = makeKey();
  await store.addKey({ keyId, name: 'bench', role, fleets: scope, createdBy: 'bench', expiresMs: null }, secret);
  return text;
}

async function main(machines: number): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'warmbrick-bench-'));
  chmodSync(folder, 0o755);
  const server = await startEmbeddedPostgres({ dataDir: join(folder, 'data') });
  const store = await openStore({ connectionString: server.connectionString });
  await fill(store, machines);
  const events = createEventHub();
  const logger = createLogger({ name: 'bench', level: 'error' });
  const app = await buildApp({ store, logger, events, limits: { requestsPerMinute: 1e9 } });
  await app.listen({ port: 0, host: '127.0.0.1' });
  const adminKey = await makeBenchKey(store, 'admin', 'all');
  const fleetKey = await makeBenchKey(store, 'viewer', ['fleet-3']);

  let published = 0;
  let timer: NodeJS.Timeout | undefined;
  /** Machines go on sending: committed once a second, and told of one by one. */
  const publish = (perS: number) => {
    clearInterval(timer);
    if (perS === 0) return;
    timer = setInterval(async () => {
      const changes = Array.from({ length: perS }, (_, i) => machineDay((published + i) % machines, Date.now())).map(
        (change) => ({ ...change, rows: change.rows.slice(-1), findings: [] }),
      );
      published += perS;
      await store.commit(changes);
      for (const change of changes) events.publishChange({ ...change, summary: stamped(change) });
    }, 1000);
  };
  process.on('message', async (question: BenchQuestion) => {
    if (question.ask === 'publish') publish(question.perS);
    if (question.ask === 'usage') {
      globalThis.gc?.();
      const { user, system } = process.cpuUsage();
      const usage: BenchUsage = {
        cpuS: (user + system) / 1e6,
        residentMb: process.memoryUsage().rss / 1e6,
        events: published,
      };
      process.send?.(usage);
      return;
    }
    if (question.ask !== 'stop') return;
    publish(0);
    await app.close();
    await store.close();
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
    process.exit(0);
  });
  const facts: BenchServerFacts = { port: (app.server.address() as AddressInfo).port, adminKey, fleetKey };
  process.send?.(facts);
}

/** The event carries the time at which it was sent, so that whoever gets it knows how long it was under way. */
function stamped({ summary }: MachineChange): MachineChange['summary'] {
  return summary === null ? null : { ...summary, observed: { ...summary.observed, toMs: Date.now() } };
}

await main(Number(process.argv[2] ?? 10_000));
