/** The built pages before the real API on a real database, with alerts of invented machines. */

import { execFile } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { buildApp, createEventHub } from '@warmbrick/alerts-api';
import { type Finding, type FindingKind, findingId } from '@warmbrick/analysis';
import { machineProfileSchema } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import type { FastifyBaseLogger } from 'fastify';
import pino from 'pino';
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core';
import { changeOf, summaryOf } from '../store/blocks.js';
import { startTestServer } from '../store/postgres.js';
import { launchArguments } from './browser-world.js';

const minuteMs = 60_000;

export interface AlertsWorld {
  readonly store: Store;
  readonly origin: string;
  /** Commits a finding of a machine as of now. */
  commit(finding: Finding): Promise<void>;
  open(path: string, options?: BrowserContextOptions): Promise<{ page: Page; complaints: string[] }>;
  close(): Promise<void>;
}

export interface InventedFinding {
  readonly machineId: string;
  readonly kind: FindingKind;
  readonly startedMin: number;
  readonly endedMin?: number;
  readonly severity: Finding['severity'];
  readonly values: Finding['values'];
}

/** A finding so many minutes ago. */
export function findingOf({ machineId, kind, startedMin, endedMin, severity, values }: InventedFinding): Finding {
  const startedMs = Math.floor(Date.now() / 1000) * 1000 - startedMin * minuteMs;
  const endedMs = endedMin === undefined ? null : startedMs + (startedMin - endedMin) * minuteMs;
  const id = findingId(machineId, kind, startedMs);
  return {
    id,
    machineId,
    kind,
    startedMs,
    endedMs,
    severity,
    values,
    evidence: {},
    thresholdSet: 'built-in-1',
    emittedMs: startedMs,
  };
}

const machines = [
  { machineId: 'sk-101', name: 'Loader 11', site: 'Skarnfell quarry', timeZone: 'Europe/Oslo' },
  { machineId: 'sk-102', name: 'Haul truck 4', site: 'Skarnfell quarry', timeZone: 'Europe/Oslo' },
  { machineId: 'ho-201', name: 'Dozer 2', site: 'Holtmyr pit', timeZone: 'Europe/Oslo' },
];

const invented: readonly InventedFinding[] = [
  {
    machineId: 'sk-101',
    kind: 'idle-streak',
    startedMin: 84,
    severity: 'warning',
    values: { durationS: 5040, fuelL: 4.2 },
  },
  {
    machineId: 'sk-101',
    kind: 'def-low',
    startedMin: 40,
    severity: 'warning',
    values: { levelPct: 8.4, litres: 2.5, limitPct: 10 },
  },
  {
    machineId: 'sk-102',
    kind: 'hot-shutdown',
    startedMin: 10,
    endedMin: 10,
    severity: 'severe',
    values: { cooldownS: 22, wantedS: 300 },
  },
  {
    machineId: 'ho-201',
    kind: 'regeneration-inhibited',
    startedMin: 65,
    severity: 'severe',
    values: { why: 'inhibited', durationS: 3900, peakSootPct: 122 },
  },
  {
    machineId: 'ho-201',
    kind: 'idle-streak',
    startedMin: 4000,
    endedMin: 3900,
    severity: 'warning',
    values: { durationS: 6000, fuelL: 5 },
  },
];

/** Starts it all; five alerts are there. */
export async function openAlertsWorld(executablePath: string): Promise<AlertsWorld> {
  const folder = await mkdtemp(join(tmpdir(), 'warmbrick-site-'));
  const consoleFolder = fileURLToPath(new URL('../../services/console', import.meta.url));
  const build = ['vite', 'build', '--outDir', folder, '--emptyOutDir', '--logLevel', 'error'];
  await promisify(execFile)('npx', build, { cwd: consoleFolder });
  const server = await startTestServer();
  const events = createEventHub();
  const alerting = { now: () => Date.now(), outbox: false, onEvents: events.publishAlerts };
  const store = await server.openOn(await server.freshDatabase(), { alerting });
  for (const { machineId, ...profile } of machines)
    await store.putMachine(machineId, machineProfileSchema.parse(profile));
  const commit = (finding: Finding) =>
    store.commit([
      changeOf(finding.machineId, { summary: summaryOf(finding.machineId, Date.now(), 40), findings: [finding] }),
    ]);
  for (const one of invented) await commit(findingOf(one));
  const logger = pino({ level: 'silent' }) as FastifyBaseLogger;
  const app = await buildApp({ store, logger, events, siteDir: folder });
  await app.listen({ host: '127.0.0.1', port: 0 });
  const origin = `http://127.0.0.1:${(app.server.address() as AddressInfo).port}`;
  const browser: Browser = await chromium.launch({ executablePath, args: launchArguments });
  return {
    store,
    origin,
    commit,
    open: async (path, options = {}) => {
      const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB', ...options });
      const page = await context.newPage();
      const complaints: string[] = [];
      page.on('console', (message) => {
        if (message.type() === 'error' || message.type() === 'warning') complaints.push(message.text());
      });
      page.on('pageerror', (error) => complaints.push(error.message));
      await page.goto(origin + path);
      return { page, complaints };
    },
    close: async () => {
      await browser.close();
      await app.close();
      await server.stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
}
