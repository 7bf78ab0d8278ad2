import { execFile } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { type Browser, chromium, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type ApiWorld, startApiWorld } from '../alerts-api/api-world.js';
import { axeFaults } from './axe-faults.js';
import { findChromium, launchArguments } from './browser-world.js';

const chromiumPath = findChromium();
/** Where to leave pictures of the pages for looking at; nowhere unless it is said. */
const pictures = process.env.WARMBRICK_PICTURES;

describe.skipIf(chromiumPath === null)('signing in and the settings, on the real API', () => {
  let world: ApiWorld;
  let browser: Browser;
  let siteDir: string;
  let address: string;
  beforeAll(async () => {
    siteDir = await mkdtemp(join(tmpdir(), 'warmbrick-site-'));
    const cwd = fileURLToPath(new URL('../../services/console', import.meta.url));
    await promisify(execFile)('npx', ['vite', 'build', '--outDir', siteDir, '--emptyOutDir', '--logLevel', 'error'], {
      cwd,
    });
    world = await startApiWorld({ siteDir });
    address = await world.app.listen({ port: 0, host: '127.0.0.1' });
    browser = await chromium.launch({ executablePath: chromiumPath ?? '', args: launchArguments });
  });
  afterAll(async () => {
    await browser?.close();
    await world?.stop();
    await rm(siteDir, { recursive: true, force: true });
  });

  async function open(path: string, options: { width?: number; colorScheme?: 'light' | 'dark' } = {}): Promise<Page> {
    const { width = 1440, colorScheme = 'light' } = options;
    const context = await browser.newContext({ viewport: { width, height: 900 }, locale: 'en-GB', colorScheme });
    const page = await context.newPage();
    await page.goto(address + path);
    return page;
  }

  async function signIn(page: Page, key: string | undefined): Promise<void> {
    await page.getByLabel('Key').fill(key ?? '');
    await page.getByRole('button', { name: 'Sign in' }).click();
  }

  async function look(page: Page, name: string): Promise<void> {
    if (pictures !== undefined) await page.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
  }

  it('asks for a key, says when it is wrong, and lets in with a cookie that no script reads', async () => {
    const page = await open('/');
    await page.getByRole('heading', { name: 'Sign in' }).waitFor();
    expect(await axeFaults(page)).toEqual([]);
    await signIn(page, 'not-a-key');
    expect(await page.getByRole('alert').textContent()).toMatch(/not valid/);
    await look(page, 'sign-in');
    await signIn(page, world.keys['north-viewer']);
    await page.getByText('north loader').first().waitFor();
    expect(await page.getByText('south loader').count()).toBe(0);
    expect(await page.evaluate(() => `${document.cookie}|${localStorage.length}|${sessionStorage.length}`)).toBe(
      '|0|0',
    );
    await page.getByRole('link', { name: 'Settings' }).click();
    await page.getByText('as viewer, for the fleet north').waitFor();
    expect(await page.getByRole('heading', { name: 'Keys' }).count()).toBe(0);
    await page.getByRole('button', { name: 'Sign out' }).click();
    await page.getByRole('heading', { name: 'Sign in' }).waitFor();
    await page.context().close();
  });

  it('lets an administrator make, turn over and revoke keys, make fleets, and see what was done', async () => {
    const page = await open('/settings');
    await signIn(page, world.keys.admin);
    await page.getByRole('heading', { name: 'Keys' }).waitFor();
    const form = page.getByRole('form', { name: 'New key' });
    await form.getByLabel('Name: who or what uses it').fill('Weighbridge');
    await form.getByLabel('Fleets').fill('north');
    await form.getByRole('button', { name: 'Make a key' }).click();
    const shown = page.getByRole('status').filter({ hasText: 'shown this once' });
    expect(await shown.locator('code').textContent()).toMatch(/^wbk_/);
    await look(page, 'settings');
    expect(await axeFaults(page)).toEqual([]);

    const row = page.getByRole('row').filter({ hasText: 'Weighbridge' });
    await row.getByRole('button', { name: /New secret/ }).click();
    await page.waitForFunction(() => document.querySelector('.secret')?.textContent?.includes('Weighbridge'));
    page.once('dialog', (dialog) => dialog.accept());
    await row.getByRole('button', { name: /Revoke/ }).click();
    await row.getByText('revoked').waitFor();

    const fleets = page.getByRole('form', { name: 'New fleet' });
    await fleets.getByLabel(/Short name/).fill('harbour');
    await fleets.getByLabel('Name', { exact: true }).fill('Harbour cranes');
    await fleets.getByRole('button', { name: 'Make a fleet' }).click();
    await page.getByRole('listitem').filter({ hasText: 'Harbour cranes' }).waitFor();

    await page.getByRole('button', { name: 'Check that the log is whole' }).click();
    await page.getByText(/entries follow from one another/).waitFor();
    await page.reload();
    await page.getByRole('cell', { name: 'DELETE /v1/keys/:keyId' }).first().waitFor();
    await page.context().close();
  });

  it('takes fault codes in the words of a fleet, one fleet apart from the other', async () => {
    const page = await open('/settings');
    await signIn(page, world.keys.admin);
    await page.getByLabel('Of the fleet').selectOption('north');
    const form = page.getByRole('form', { name: 'A code in your own words' });
    await form.getByLabel('SPN').fill('520201');
    await form.getByLabel('FMI; empty: whichever').fill('11');
    await form.getByLabel('Words').fill('Coupling of the crusher slips');
    await form.getByLabel('Look at first').fill('Oil level of the coupling');
    await form.getByRole('button', { name: 'Put it in' }).click();
    const row = page.getByRole('row').filter({ hasText: 'SPN 520201 FMI 11' });
    expect(await row.textContent()).toContain('Coupling of the crusher slips');
    await look(page, 'settings-codes');
    await page.getByLabel('Of the fleet').selectOption('south');
    await page.getByText('None so far: the built-in words hold.').waitFor();
    await page.goto(`${address}/?fleet=south`);
    await page.getByText('south loader').first().waitFor();
    expect(await page.getByText('north loader').count()).toBe(0);
    await page.context().close();

    const own = await open('/settings');
    await signIn(own, world.keys['north-engineer']);
    const mine = own.getByRole('row').filter({ hasText: 'SPN 520201 FMI 11' });
    await mine.getByRole('button', { name: /Take out/ }).click();
    await own.getByText('None so far: the built-in words hold.').waitFor();
    expect(await axeFaults(own)).toEqual([]);
    await own.goto(`${address}/alerts?view=rules`);
    const rule = own.locator('.rule-card').filter({ hasText: 'Idle for over an hour' });
    await rule.getByRole('button', { name: 'Switch off' }).click();
    await rule.getByRole('button', { name: 'Switch on' }).waitFor();
    await rule.getByRole('button', { name: 'As it was' }).click();
    await rule.getByRole('button', { name: 'Switch off' }).waitFor();
    await own.context().close();
  });

  it('works on a phone, and by night', async () => {
    const page = await open('/settings', { width: 390, colorScheme: 'dark' });
    await signIn(page, world.keys.admin);
    await page.getByRole('heading', { name: 'What was done' }).waitFor();
    await page.getByRole('row').first().waitFor();
    const isTooWide = await page.evaluate(
      () => document.documentElement.scrollWidth > document.documentElement.clientWidth,
    );
    expect(isTooWide).toBe(false);
    await look(page, 'settings-phone');
    expect(await axeFaults(page)).toEqual([]);
    await page.context().close();
  });
});
