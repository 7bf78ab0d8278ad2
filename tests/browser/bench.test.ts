/** The bench page over a real archive: the same trial as the command, and the same numbers. */

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { builtInThresholds } from '@warmbrick/analysis';
import type { ComparisonDocument } from '@warmbrick/contracts';
import { createIngest } from '@warmbrick/ingest';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { simulateFleet } from '../tuning/simulated.js';
import { run } from '../workbench/run.js';
import { axeFaults } from './axe-faults.js';
import { findChromium } from './browser-world.js';
import { openRealWorld, type RealWorld } from './real-world.js';

const chromiumPath = findChromium();
const phone = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const overflow = (page: Page) => page.evaluate(() => document.documentElement.scrollWidth - innerWidth);

describe.skipIf(chromiumPath === null)('the bench page', () => {
  let world: RealWorld;
  let machineId = '';
  let folder = '';
  beforeAll(async () => {
    world = await openRealWorld(chromiumPath ?? '');
    folder = mkdtempSync(join(tmpdir(), 'warmbrick-bench-page-'));
    const [record] = simulateFleet({ machines: 1, days: 2, seed: 21, habit: 'idler', hasMishaps: false });
    if (record === undefined) throw new Error('no machine');
    machineId = record.machineId;
    const ingest = createIngest({
      store: world.store,
      thresholds: builtInThresholds,
      logger: { info() {}, warn() {}, error() {} },
    });
    await ingest.register(machineId, record.profile);
    await ingest.accept(record.blocks, { isRecorded: true });
    await ingest.close();
  }, 240_000);
  afterAll(async () => {
    await world?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  /** The rows of the table as numbers: before, after, appear, vanish, move, change. */
  const tableOf = async (page: Page): Promise<number[][]> => {
    const rows = await page.locator('.change-table tbody tr').all();
    const cells = await Promise.all(rows.map((row) => row.locator('td').allTextContents()));
    return cells.map((row) => row.slice(1).map((text) => (text === '–' ? 0 : Number(text))));
  };
  const settled = (page: Page) => page.getByText(/samples answered in/).waitFor();
  const move = async (page: Page, label: RegExp, value: string) => {
    await page.getByLabel(label).fill(value);
    await page.getByLabel(label).press('Tab');
  };

  it('gives the numbers of the command, for a threshold of findings and for one of everything', async () => {
    const { page, complaints } = await world.open(`/machines/${machineId}/bench?days=3`);
    await settled(page);
    await page.getByText('Nothing would change in this time.').waitFor();
    await move(page, /Idle longer than this is told of, in s/, '1500');
    await page.getByText(/^\d+ appear/).waitFor();
    await page.getByRole('button', { name: /^Stops/ }).click();
    await move(page, /Cool-down wanted before key-off, in s/, '200');
    await page.getByText(/Soot risk (stays|[\d.]+ →)/).waitFor();
    await page.waitForFunction(() => location.search.includes('cooldownWantedS'));

    const set = join(folder, 'set.json');
    writeFileSync(set, JSON.stringify({ idleLimitS: 1500, cooldownWantedS: 200 }));
    process.env.DATABASE_URL = world.databaseUrl;
    const { out } = await run('compare', 'built-in', set, '--stored', machineId, '--json', '--quiet');
    delete process.env.DATABASE_URL;
    const document = JSON.parse(out) as ComparisonDocument;
    const expected = Object.values(document.byKind).map((c) => [
      c.before,
      c.after,
      c.appears,
      c.vanishes,
      c.moves,
      c.changes,
    ]);
    expect(document.isEqual).toBe(false);
    await expect.poll(() => tableOf(page), { timeout: 20_000 }).toEqual(expected);
    const { score } = document.machines[0] as ComparisonDocument['machines'][number];
    const words = score.before === score.after ? `stays ${score.after}` : `${score.before} → ${score.after}`;
    await page.getByText(words).waitFor();
    const listed = document.machines[0]?.changes.length ?? 0;
    expect(await page.locator('.change-list li').count()).toBe(Math.min(200, listed));
    expect(complaints).toEqual([]);
  });

  it('keeps what was moved in the address, works by keyboard, on a phone and in the dark', async () => {
    const { page, complaints } = await world.open(`/machines/${machineId}/bench?days=1&set=idleLimitS:900`, {
      ...phone,
      colorScheme: 'dark',
    });
    await settled(page);
    expect(await page.getByLabel(/Idle longer than this is told of, in s/).inputValue()).toBe('900');
    expect(await axeFaults(page)).toEqual([]);
    expect(await overflow(page)).toBeLessThanOrEqual(0);
    const slider = page.getByRole('slider').first();
    await slider.focus();
    await slider.press('ArrowRight');
    await page.waitForFunction(
      () => !location.search.includes('idleLimitS%3A900') && !location.search.includes('idleLimitS:900'),
    );
    await page.getByRole('button', { name: 'Put all back' }).click();
    await page.getByText('Nothing would change in this time.').waitFor();
    expect(complaints).toEqual([]);
  });

  it('is free of faults in the light of day, prints, and says what is in force and what became of the past', async () => {
    await world.store.addThresholdSet({
      set: { ...builtInThresholds, version: 'calm-1' },
      author: 'Aud',
      reason: 'a trial',
      trialId: null,
      needsApproval: false,
    });
    const scope = { kind: 'machine', name: machineId } as const;
    await world.store.addPromotion({
      version: 'calm-1',
      scope,
      fromMs: 1e12,
      isRecomputed: true,
      author: 'Aud',
      reason: 'quieter',
    });
    const { page } = await world.open(`/machines/${machineId}/bench?days=1&set=idleLimitS:600`);
    await settled(page);
    expect(await axeFaults(page)).toEqual([]);
    await page.getByText('the past is judged anew as machines send').waitFor();
    await page.emulateMedia({ media: 'print' });
    expect(await page.locator('.sliders').isVisible()).toBe(false);
    expect(await page.locator('.change-table').isVisible()).toBe(true);
  });
});
