/** A browser before the built pages over invented machines. */

import { execFile } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core';
import { type FakeApi, startFakeApi } from './fake-api.js';

/** The invented server's clock at the start. */
const startMs = Date.parse('2026-03-17T13:20:00Z');

const candidates = [
  process.env.CHROMIUM_PATH ?? '',
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
];
export const launchArguments = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export interface BrowserWorld {
  readonly api: FakeApi;
  readonly browser: Browser;
  /** Opens a page in a context of its own; complaints of the console end up in `complaints`. */
  open(path: string, options?: BrowserContextOptions): Promise<OpenPage>;
  /** Closes every page, so that none of them talks into the next test. */
  closePages(): Promise<void>;
  close(): Promise<void>;
}

interface OpenPage {
  readonly page: Page;
  readonly complaints: string[];
}

/** Path of a Chromium, or null after saying that there is none. Errors: throws when there is none and CI is set. */
export function findChromium(): string | null {
  const found = candidates.find((path) => path !== '' && existsSync(path));
  if (found !== undefined) return found;
  const words = 'no Chromium at CHROMIUM_PATH, /usr/bin/chromium, /usr/bin/chromium-browser or /usr/bin/google-chrome';
  if (process.env.CI === 'true') throw new Error(`Browser tests cannot run: ${words}`);
  console.warn(`Browser tests skipped: ${words}.`);
  return null;
}

/** Builds the pages into a folder of their own and opens a browser before them. */
export async function openWorld(executablePath: string, machineCount = 24): Promise<BrowserWorld> {
  const folder = await mkdtemp(join(tmpdir(), 'warmbrick-site-'));
  const consoleFolder = fileURLToPath(new URL('../../services/console', import.meta.url));
  await promisify(execFile)('npx', ['vite', 'build', '--outDir', folder, '--emptyOutDir', '--logLevel', 'error'], {
    cwd: consoleFolder,
  });
  const api = await startFakeApi({ siteFolder: folder, machineCount, startMs });
  const browser = await chromium.launch({ executablePath, args: launchArguments });
  return {
    api,
    browser,
    open: async (path, options = {}) => {
      const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, locale: 'en-GB', ...options });
      const page = await context.newPage();
      const complaints: string[] = [];
      page.on('console', (message) => {
        if (message.type() === 'error' || message.type() === 'warning') complaints.push(message.text());
      });
      page.on('pageerror', (error) => complaints.push(error.message));
      await page.goto(api.origin + path);
      return { page, complaints };
    },
    closePages: async () => {
      await Promise.all(browser.contexts().map((context) => context.close()));
    },
    close: async () => {
      await browser.close();
      await api.close();
      await rm(folder, { recursive: true, force: true });
    },
  };
}
