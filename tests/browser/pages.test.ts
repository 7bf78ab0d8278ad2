import {
  machineDetailSchema,
  machineListSchema,
  residencySeriesSchema,
  sampleSeriesSchema,
} from '@warmbrick/contracts';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { axeFaults } from './axe-faults.js';
import { type BrowserWorld, findChromium, openWorld } from './browser-world.js';
import { demoCases as built } from './demo-load.js';

const chromiumPath = findChromium();
const machinePage = '/machines/sk-002';

describe.skipIf(chromiumPath === null)('the pages', () => {
  let world: BrowserWorld;
  beforeAll(async () => {
    world = await openWorld(chromiumPath ?? '');
  });
  afterEach(() => world.closePages());
  afterAll(() => world?.close());

  it('are shown over answers that keep to the contract', async () => {
    const get = async (path: string) => (await fetch(world.api.origin + path)).json();
    machineListSchema.parse(await get('/v1/machines?limit=200'));
    for (const id of [...Object.values(built), 'sk-011']) machineDetailSchema.parse(await get(`/v1/machines/${id}`));
    residencySeriesSchema.parse(await get('/v1/machines/sk-002/residency?bucket=shift'));
    const series = sampleSeriesSchema.parse(
      await get('/v1/machines/sk-002/samples?channels=scrInletTempC&buckets=300'),
    );
    expect(series.startedAt.length).toBeGreaterThan(50);
  });

  it('list every machine, the greatest risk first, and one never seen running without a number', async () => {
    const { page, complaints } = await world.open('/');
    const rows = page.getByRole('row').filter({ has: page.getByRole('rowheader') });
    await rows.first().waitFor();
    expect(await rows.count()).toBe(24);
    const risks = (await page.locator('.risk-value').allTextContents()).map(Number);
    expect(risks).toEqual([...risks].sort((a, b) => b - a));
    const unseen = rows.filter({ hasText: 'Light tower 11' }).locator('.cell-risk');
    expect(await unseen.textContent()).toBe('not seen running');
    expect(await page.locator('.risk-little').first().textContent()).toContain('little evidence');
    expect(complaints).toEqual([]);
  });

  it('narrow the fleet by site, search and concern, and keep that over a machine and back', async () => {
    const { page } = await world.open('/');
    await page.getByLabel('Site').selectOption('Skarnfell quarry');
    await page.waitForFunction(() => document.querySelectorAll('.cell-machine').length === 8);
    await page.getByLabel('Find').fill('drill');
    expect(await page.locator('.cell-machine').count()).toBe(4);
    await page.locator('.machine-name').first().click();
    await page.getByRole('heading', { level: 1 }).filter({ hasText: 'Drill' }).waitFor();
    await page.getByRole('link', { name: 'Back to the fleet' }).click();
    await page.locator('.fleet-table').waitFor();
    expect(await page.locator('.cell-machine').count()).toBe(4);
    expect(await page.getByLabel('Find').inputValue()).toBe('drill');
    expect(new URL(page.url()).searchParams.get('site')).toBe('Skarnfell quarry');
    await page.getByRole('button', { name: 'stopped hot' }).click();
    expect(new URL(page.url()).searchParams.get('only')).toBe('hot-stop');
    expect(await page.locator('.cell-found').allTextContents()).toSatisfy((texts: string[]) =>
      texts.every((text) => /hot\sstop/.test(text)),
    );
  });

  it('walk by keyboard: skip link, name, clauses, a machine', async () => {
    const { page } = await world.open('/');
    await page.locator('.machine-name').first().waitFor();
    await page.keyboard.press('Tab');
    expect(await focusedText(page)).toContain('Skip to the content');
    await page.keyboard.press('Enter');
    const seen: string[] = [];
    for (let step = 0; step < 12; step += 1) {
      await page.keyboard.press('Tab');
      seen.push(await focusedText(page));
      if (await page.evaluate(() => document.activeElement?.classList.contains('machine-name') === true)) break;
    }
    expect(seen.some((text) => text.includes('at risk'))).toBe(true);
    await page.keyboard.press('Enter');
    await page.locator('.machine-title').waitFor();
    expect(new URL(page.url()).pathname).toMatch(/^\/machines\//);
  });

  it('convert units and say the clock', async () => {
    const { page } = await world.open(machinePage);
    const table = page.locator('.residency');
    await table.getByText('350 °C to 450 °C').waitFor();
    await page.getByLabel('Units').selectOption('imperial');
    // Known values: 350 C is 662 F and 450 C is 842 F.
    await table.getByText('662 °F to 842 °F').waitFor();
    expect(await page.locator('.machine-now .zone-name').textContent()).toContain('Europe/Helsinki (UTC+2)');
    await page.getByRole('combobox', { name: 'Clock' }).selectOption('utc');
    expect(await page.locator('.machine-now .zone-name').textContent()).toBe('Times in UTC');
    await page.reload();
    await table.getByText('662 °F to 842 °F').waitFor();
  });

  it('unfold a finding with its figures and threshold set', async () => {
    const { page } = await world.open(machinePage);
    const hotStop = page.locator('.finding', { hasText: 'Stopped hot' }).first();
    await hotStop.locator('summary').click();
    await hotStop.getByText('Threshold set built-in-1').waitFor();
    expect(await hotStop.textContent()).toMatch(/turbine temp\d+\s°C/);
    expect(await hotStop.textContent()).toContain('cooldown20');
  });

  it('show a problem in the server’s words and try again', async () => {
    world.api.failWith({
      type: 'about:blank',
      title: 'The store rests',
      status: 503,
      detail: 'Back soon.',
      code: 'store-down',
    });
    const { page } = await world.open('/');
    const note = page.getByRole('alert');
    await note.getByText('The store rests').waitFor();
    expect(await note.textContent()).toContain('Back soon.');
    world.api.failWith(null);
    await page.getByRole('button', { name: 'Try again' }).click();
    await page.locator('.machine-name').first().waitFor();
    expect(await page.getByRole('alert').count()).toBe(0);
  });

  it('say so for an unknown path and an unknown machine', async () => {
    const { page } = await world.open('/no/such/page');
    await page.getByRole('heading', { name: 'There is no page here' }).waitFor();
    await page.goto(`${world.api.origin}/machines/none`);
    await page.getByText('No such machine').waitFor();
  });

  it('print without controls, in ink on white', async () => {
    const { page } = await world.open('/', { colorScheme: 'dark' });
    await page.locator('.machine-name').first().waitFor();
    await page.emulateMedia({ media: 'print' });
    expect(await page.locator('.fleet-controls').isVisible()).toBe(false);
    expect(await page.locator('.fleet-table').isVisible()).toBe(true);
    const colours = await page.evaluate(() => {
      const style = getComputedStyle(document.body);
      return [style.backgroundColor, style.color];
    });
    expect(colours).toEqual(['rgb(255, 255, 255)', 'rgb(27, 34, 37)']);
    expect((await page.pdf({ format: 'A4' })).byteLength).toBeGreaterThan(10_000);
    await page.goto(`${world.api.origin}/machines/${built.measured}`);
    await page.locator('.built-up').waitFor();
    for (const printed of ['.built-up .load-course >> nth=0', '.built-up .clearing', '.advice .caution']) {
      expect(await page.locator(printed).isVisible(), printed).toBe(true);
    }
  });

  const sights = [
    { name: 'by day on a desk', viewport: { width: 1440, height: 900 }, colorScheme: 'light' },
    { name: 'by night on a desk', viewport: { width: 1440, height: 900 }, colorScheme: 'dark' },
    { name: 'by day on a phone', viewport: { width: 360, height: 740 }, colorScheme: 'light' },
    { name: 'by night on a phone', viewport: { width: 360, height: 740 }, colorScheme: 'dark' },
  ] as const;
  for (const { name, viewport, colorScheme } of sights) {
    it(`are accessible and fit ${name}`, async () => {
      const machines = [`/machines/${built.over}`, `/machines/${built.unfiltered}`];
      for (const path of ['/', machinePage, ...machines, '/about', '/nowhere']) {
        const { page, complaints } = await world.open(path, { viewport, colorScheme });
        await settle(page, path);
        expect(await axeFaults(page), `${path} ${name}`).toEqual([]);
        const overflow = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
        expect(overflow, `${path} is wider than the screen`).toBeLessThanOrEqual(0);
        expect(complaints).toEqual([]);
      }
    }, 120_000);
  }
});

async function settle(page: Page, path: string): Promise<void> {
  await page.getByRole('heading', { level: 1 }).waitFor({ state: 'attached' });
  if (path === '/') await page.locator('.machine-name').first().waitFor();
  if (!path.startsWith('/machines/')) return;
  await page.locator('.built-up').waitFor();
  if (path !== machinePage) return;
  await page.locator('.plot canvas').first().waitFor();
  await page.locator('.finding summary').first().click();
  await page.getByRole('button', { name: 'Show as table' }).first().click();
}

function focusedText(page: Page): Promise<string> {
  return page.evaluate(() => document.activeElement?.textContent ?? '');
}
