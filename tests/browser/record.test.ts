import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { type BrowserWorld, findChromium, openWorld } from './browser-world.js';

const chromiumPath = findChromium();

describe.skipIf(chromiumPath === null)('the record of a machine', () => {
  let world: BrowserWorld;
  beforeAll(async () => {
    world = await openWorld(chromiumPath ?? '');
  });
  afterEach(() => world.closePages());
  afterAll(() => world?.close());

  const openRecord = async (path = '/machines/sk-001'): Promise<Page> => {
    const { page } = await world.open(path);
    await page.locator('.plot canvas').first().waitFor();
    return page;
  };
  const range = (page: Page) => {
    const query = new URL(page.url()).searchParams;
    return { from: query.get('from'), to: query.get('to') };
  };

  it('zooms by button into finer buckets, keeps it over a reload and goes back', async () => {
    const page = await openRecord();
    const note = page.locator('.record-note');
    expect(await note.textContent()).toContain('2 min');
    for (let step = 0; step < 4; step += 1) await page.getByRole('button', { name: 'Closer' }).click();
    await note.filter({ hasText: /bucket of \d s/ }).waitFor();
    const zoomed = range(page);
    expect(Date.parse(zoomed.to ?? '') - Date.parse(zoomed.from ?? '')).toBeCloseTo(86_400_000 / 16, -4);
    const words = await page.locator('.range-words').textContent();
    await page.reload();
    await page.locator('.plot canvas').first().waitFor();
    expect(await page.locator('.range-words').textContent()).toBe(words);
    await page.getByRole('button', { name: 'Last 24 hours' }).click();
    expect(range(page)).toEqual({ from: null, to: null });
    await page.goBack();
    expect(range(page)).toEqual(zoomed);
  });

  it('zooms by drag', async () => {
    const page = await openRecord();
    await page.locator('.panel-exhaust').scrollIntoViewIfNeeded();
    const box = await page.locator('.panel-exhaust .u-over').boundingBox();
    if (box === null) throw new Error('the plot has no box');
    const y = box.y + box.height / 2;
    await page.mouse.move(box.x + box.width * 0.25, y);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width * 0.5, y, { steps: 6 });
    await page.mouse.up();
    await page.waitForURL(/from=/);
    const { from, to } = range(page);
    const lengthH = (Date.parse(to ?? '') - Date.parse(from ?? '')) / 3_600_000;
    expect(lengthH).toBeGreaterThan(5.5);
    expect(lengthH).toBeLessThan(6.5);
  });

  it('moves by keyboard', async () => {
    const page = await openRecord();
    await page.locator('.panels').focus();
    await page.keyboard.press('+');
    await page.waitForURL(/from=/);
    const first = range(page);
    await page.keyboard.press('ArrowLeft');
    await expect.poll(() => range(page).from).not.toBe(first.from);
    expect(Date.parse(range(page).from ?? '')).toBeLessThan(Date.parse(first.from ?? ''));
    await page.keyboard.press('Home');
    await expect.poll(() => range(page).from).toBe(null);
  });

  it('goes to a finding and names it above the charts', async () => {
    const page = await openRecord();
    const mark = page.locator('.lane-mark').first();
    const name = await mark.getAttribute('aria-label');
    await mark.click();
    await page.waitForURL(/from=/);
    await page.locator(`.lane-mark[aria-label="${name}"]`).waitFor();
  });

  it('adds and removes panels by the address', async () => {
    const page = await openRecord();
    expect(await page.locator('.panel').count()).toBe(3);
    await page.getByLabel('Coolant').check();
    await page.locator('.panel-coolant canvas').waitFor();
    expect(new URL(page.url()).searchParams.get('ch')).toContain('coolant');
    await page.getByLabel('NOx out').check();
    await page.locator('.panel-nox').getByText('No readings').waitFor();
    await page.reload();
    await page.locator('.panel-coolant canvas').waitFor();
  });

  it('shows the same figures as a table', async () => {
    const page = await openRecord();
    const panel = page.locator('.panel-exhaust');
    await panel.getByRole('button', { name: 'Show as table' }).click();
    const table = panel.getByRole('table');
    expect(await table.locator('caption').textContent()).toContain('in °C, times in Europe/Oslo (UTC+1)');
    const answer = await (
      await fetch(
        `${world.api.origin}${world.api.requests.filter((request) => request.includes('/sk-001/samples')).pop()}`,
      )
    ).json();
    const row = table.locator('tbody tr').first();
    const mean = Number((await row.locator('td').nth(1).textContent())?.replace('−', '-'));
    expect(mean).toBeCloseTo(answer.channels.scrInletTempC.mean[0], mean >= 100 ? 0 : 1);
  });
});
