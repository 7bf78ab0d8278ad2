/** A browser before the built pages over the real API and a real database. */

import { execFile } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { buildApp, createEventHub } from '@warmbrick/alerts-api';
import { createLogger } from '@warmbrick/runtime';
import type { Store } from '@warmbrick/store';
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core';
import { startTestServer } from '../store/postgres.js';
import { launchArguments } from './browser-world.js';

export interface RealWorld {
  readonly browser: Browser;
  readonly store: Store;
  readonly origin: string;
  /** Connection string of the database. */
  readonly databaseUrl: string;
  /** Opens a page in a context of its own; complaints of the console end up in `complaints`. */
  open(path: string, options?: BrowserContextOptions): Promise<{ page: Page; complaints: string[] }>;
  close(): Promise<void>;
}

/** Builds the pages, starts database and API on loopback, and opens a browser before them. */
export async function openRealWorld(executablePath: string): Promise<RealWorld> {
  const siteDir = await mkdtemp(join(tmpdir(), 'warmbrick-site-'));
  const consoleFolder = fileURLToPath(new URL('../../services/console', import.meta.url));
  const vite = ['vite', 'build', '--outDir', siteDir, '--emptyOutDir', '--logLevel', 'error'];
  await promisify(execFile)('npx', vite, { cwd: consoleFolder });
  const server = await startTestServer();
  const databaseUrl = await server.freshDatabase();
  const store = await server.openOn(databaseUrl);
  const logger = createLogger({ name: 'test', level: 'silent' });
  const app = await buildApp({ store, logger, events: createEventHub(), siteDir });
  const origin = await app.listen({ host: '127.0.0.1', port: 0 });
  const browser = await chromium.launch({ executablePath, args: launchArguments });
  return {
    browser,
    store,
    origin,
    databaseUrl,
    async open(path, options = {}) {
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
    async close() {
      await browser.close();
      await app.close();
      await server.stop();
      await rm(siteDir, { recursive: true, force: true });
    },
  };
}
