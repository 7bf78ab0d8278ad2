import { builtInThresholds } from '@warmbrick/analysis';
import { createIngest } from '@warmbrick/ingest';
import { machineProfileSchema, type SampleBlock } from '@warmbrick/signals';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeFaults } from './axe-faults.js';
import { findChromium } from './browser-world.js';
import { openRealWorld, type RealWorld } from './real-world.js';

const chromiumPath = findChromium();
const phone = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const startMs = Date.now() - (Date.now() % 86_400_000) - 86_400_000 + 7 * 3_600_000;

/** A start, work, and a stop without any cool-down. */
function morning(): SampleBlock {
  const length = 3600;
  const column = (at: (k: number) => number) => Float32Array.from({ length }, (_, k) => at(k));
  return {
    machineId: 'm 1',
    timeMs: Float64Array.from({ length }, (_, k) => startMs + k * 1000),
    channels: {
      engineSpeedRpm: column((k) => (k < 10 || k > 3500 ? 0 : k < 600 ? 950 : 1700)),
      engineLoadPct: column((k) => (k < 10 || k > 3500 ? 0 : k < 600 ? 10 : 70)),
      exhaustTempC: column((k) => (k < 600 ? 150 : 400)),
      defLevelPct: column(() => 60),
    },
  };
}

const overflow = (page: Page) => page.evaluate(() => document.documentElement.scrollWidth - innerWidth);

describe.skipIf(chromiumPath === null)('service and shifts', () => {
  let world: RealWorld;
  beforeAll(async () => {
    world = await openRealWorld(chromiumPath ?? '');
    const logger = { info() {}, warn() {}, error() {} };
    const ingest = createIngest({ store: world.store, thresholds: builtInThresholds, logger });
    await ingest.register('m 1', machineProfileSchema.parse({ name: 'Loader', timeZone: 'UTC' }));
    await ingest.accept([morning()], { isRecorded: true });
    await ingest.close();
  });
  afterAll(() => world?.close());

  it('let an operator tick on a phone, and show who corrected it', async () => {
    const { page, complaints } = await world.open('/machines/m%201/shifts', phone);
    await page.getByText('switched off hot').waitFor();
    expect(await page.getByText('Hot exhaust burns').count()).toBeGreaterThan(0);
    const shift = page.locator('.shift').first();
    if ((await shift.locator('.inspection[open]').count()) === 0) await shift.locator('.inspection > summary').click();
    await shift.getByRole('group', { name: 'DEF strainer' }).getByText('In order', { exact: true }).click();
    await shift.getByLabel('Your name').fill('Aud');
    await shift.getByRole('button', { name: 'Save' }).click();
    await shift.getByText('by Aud').waitFor();
    await shift.getByRole('group', { name: 'DEF strainer' }).getByText('Not in order').click();
    await shift.getByLabel('Your name').fill('Per');
    await shift.getByRole('button', { name: 'Save as correction' }).click();
    await shift.getByText('All 2 versions').click();
    await shift.getByText('DEF strainer not in order').waitFor();
    expect(await shift.locator('.tick-history li').allTextContents()).toMatchObject([
      expect.stringContaining('Per'),
      expect.stringContaining('Aud'),
    ]);
    expect(await overflow(page)).toBeLessThanOrEqual(0);
    expect(await axeFaults(page)).toEqual([]);
    expect(complaints).toEqual([]);
    // The name is remembered on this device.
    await page.reload();
    await shift.locator('.inspection > summary').click();
    expect(await shift.getByLabel('Your name').inputValue()).toBe('Per');
  });

  it('take down work and say what is due next', async () => {
    const { page, complaints } = await world.open('/machines/m%201/service', { colorScheme: 'dark' });
    const row = page.getByRole('row').filter({ hasText: 'Engine oil and filter' });
    await row.getByText('nothing recorded').waitFor();
    await page.getByLabel('When, by the clock of this device').fill('2020-01-01T08:00');
    await page.getByLabel('Who did it').fill('Aud');
    await page.getByRole('button', { name: 'Write down' }).click();
    await row.getByText('overdue by the calendar').waitFor();
    expect(await axeFaults(page)).toEqual([]);
    page.on('dialog', (dialog) => void dialog.accept());
    await page.getByRole('button', { name: 'Take back' }).click();
    await row.getByText('nothing recorded').waitFor();
    await page.setViewportSize(phone.viewport);
    expect(await overflow(page)).toBeLessThanOrEqual(0);
    expect(complaints).toEqual([]);
  });

  it('take down a batch of DEF and say how long it keeps', async () => {
    const { page, complaints } = await world.open('/def-stock');
    await page.getByText('No batch is written down yet.').waitFor();
    await page.getByLabel('Name, such as the tank').fill('Tank 2');
    await page.getByLabel('Bought on').fill('2020-01-01');
    await page.getByLabel('Quantity, litres').fill('1000');
    await page.getByRole('button', { name: 'Write down' }).click();
    await page.getByText('do not use it without a test').waitFor();
    expect(await axeFaults(page)).toEqual([]);
    await page.setViewportSize(phone.viewport);
    expect(await overflow(page)).toBeLessThanOrEqual(0);
    expect(complaints).toEqual([]);
  });
});
