import { builtInThresholds } from '@warmbrick/analysis';
import { createIngest, startDerateInquirer } from '@warmbrick/ingest';
import { machineProfileSchema } from '@warmbrick/signals';
import { makeDerateCase } from '@warmbrick/simulator';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeFaults } from './axe-faults.js';
import { findChromium } from './browser-world.js';
import { openRealWorld, type RealWorld } from './real-world.js';

const chromiumPath = findChromium();
/** Its soot code rises from a controller of its own, and a derate follows. */
const one = makeDerateCase(1);
const machineId = 'dozer 9';
const path = '/machines/dozer%209/derates';

describe.skipIf(chromiumPath === null)('faults and derates', () => {
  let world: RealWorld;
  beforeAll(async () => {
    world = await openRealWorld(chromiumPath ?? '');
    const logger = { info() {}, warn() {}, error() {} };
    const ingest = createIngest({ store: world.store, thresholds: builtInThresholds, logger });
    const profile = { ...one.profile, name: 'Dozer Nine', site: 'Skarnfell quarry', timeZone: 'UTC' };
    await ingest.register(machineId, machineProfileSchema.parse(profile));
    const reports = one.reports.map((report) => ({ ...report, machineId }));
    await ingest.accept([{ ...one.samples, machineId }], { reports, isRecorded: true });
    await ingest.close();
    const inquirer = startDerateInquirer({ store: world.store, logger, everyMs: 3_600_000 });
    await inquirer.settled();
    await inquirer.stop();
  });
  afterAll(() => world?.close());

  const opened = async (query = '', options = {}) => {
    const { page, complaints } = await world.open(`${path}${query}`, options);
    await page.locator('.origin').first().waitFor();
    await page.locator('.log-table tbody tr').first().waitFor();
    return { page, complaints };
  };

  it('lead from the machine to the fault that began it, with what speaks for it and what not to do', async () => {
    const { page, complaints } = await world.open('/machines/dozer%209');
    await page.getByRole('link', { name: 'Faults and derates' }).click();
    await page.locator('.origin.is-origin[open]').first().waitFor();
    const origin = (await page.locator('.origin.is-origin').first().textContent()) ?? '';
    expect(origin).toContain('SPN 3719');
    expect(origin).toContain('Speaks for it');
    // The first row is the fault that came first; the last is the derate itself.
    const rows = await page.locator('.course-of-faults li').allTextContents();
    expect(rows.at(-1)).toContain('Power taken');
    expect(await page.getByRole('heading', { name: 'What not to do' }).count()).toBe(1);
    expect(await page.getByText('Never defeat an emissions control', { exact: false }).count()).toBeGreaterThan(0);
    await page.locator('.strip-table tbody tr').first().waitFor();
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('sort the log by occurrence and by time, and keep the order in the address', async () => {
    const { page } = await opened();
    const codes = () => page.locator('.log-table summary b').allTextContents();
    await page.getByLabel('Order').selectOption('first');
    await page.waitForFunction(() => location.search.includes('log=first'));
    await expect.poll(async () => (await codes())[0]).toContain('');
    const lines = await world.store.listFaultLog({ machineId, limit: 100, sort: 'first' });
    await expect.poll(async () => (await codes()).length).toBe(lines.items.length);
    const firsts = await page.locator('.log-table tbody tr td:nth-of-type(2)').allTextContents();
    expect(firsts).toHaveLength(lines.items.length);
    await page.getByLabel('Order').selectOption('occurrence');
    await page.waitForFunction(() => location.search.includes('log=occurrence'));
    const byOccurrence = await world.store.listFaultLog({ machineId, limit: 100, sort: 'occurrence' });
    const most = byOccurrence.items[0]?.episodes[0];
    await expect
      .poll(async () => (await page.locator('.log-table tbody tr').first().textContent()) ?? '')
      .toContain(`SPN ${most?.spn} FMI ${most?.fmi}`);
    await page.getByLabel('only active ones').check();
    await expect
      .poll(async () => new Set(await page.locator('.log-table td:last-child b').allTextContents()))
      .toEqual(new Set(['active']));
    await page.context().close();
  });

  it('take a code that somebody read off a display', async () => {
    const { page } = await opened();
    await page.getByLabel('SPN').fill('520301');
    await page.getByLabel('FMI').fill('2');
    await page.getByLabel('When, by this device’s clock').fill('2026-02-02T06:00');
    await page.getByRole('button', { name: 'Put it in the log' }).click();
    await page.getByText('It is in the log.').waitFor();
    await page.getByText('SPN 520301 FMI 2').first().waitFor();
    await page.context().close();
  });

  it('open the sheet to print with its own style only, and name its file', async () => {
    const { page } = await opened();
    const link = page.getByRole('link', { name: 'Open to print' });
    await page.getByLabel('From the day').fill('2026-02-01');
    await page.getByLabel('leave out which machine').check();
    const [sheet] = await Promise.all([page.context().waitForEvent('page'), link.click()]);
    await sheet.waitForLoadState();
    const text = (await sheet.textContent('body')) ?? '';
    expect(text).toContain('Handover sheet: Machine ');
    expect(text).not.toContain('Dozer Nine');
    // The style is applied: the page's own policy lets it through.
    expect(
      await sheet.evaluate(() => getComputedStyle(document.querySelector('.caution') as Element).borderTopStyle),
    ).toBe('solid');
    expect(await axeFaults(sheet)).toEqual([]);
    const saved = page.waitForEvent('download');
    await page.getByRole('link', { name: 'Save as PDF' }).click();
    expect((await saved).suggestedFilename()).toMatch(/^handover-machine-[2-9a-z]{5}-2026-02-01-.*\.pdf$/);
    await page.context().close();
  });

  for (const [width, theme] of [
    [1440, 'light'],
    [1440, 'dark'],
    [390, 'light'],
    [390, 'dark'],
  ] as const) {
    it(`are accessible and fit at ${width} px, ${theme}`, async () => {
      const { page } = await opened(`?theme=${theme}`, { viewport: { width, height: 844 } });
      await page.locator('.strip-table tbody tr').first().waitFor();
      expect(await axeFaults(page)).toEqual([]);
      expect(await overflow(page)).toBeLessThanOrEqual(0);
      await page.context().close();
    });
  }
});

const overflow = (page: Page) => page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
