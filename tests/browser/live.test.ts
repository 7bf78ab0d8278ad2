import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { type BrowserWorld, findChromium, openWorld } from './browser-world.js';

const chromiumPath = findChromium();

describe.skipIf(chromiumPath === null)('what is live', () => {
  let world: BrowserWorld;
  beforeAll(async () => {
    world = await openWorld(chromiumPath ?? '');
  });
  afterEach(() => world.closePages());
  afterAll(() => world?.close());

  it('changes a row when the machine is heard, and asks for its new score', async () => {
    const { page, complaints } = await world.open('/');
    // Drill 04 is one of the silent machines.
    const row = page.getByRole('row').filter({ hasText: 'Drill 04' });
    await row.getByText(/silent since/).waitFor();
    expect(await row.locator('.now-mode').textContent()).toMatch(/^was /);
    await page.locator('.live-live').waitFor();
    const lastSampleAt = new Date(world.api.nowMs()).toISOString();
    const score = {
      value: 88.5,
      parts: { 'cold-running': 60, idling: 20, 'hot-stops': 8.5 },
      confidence: 0.9,
      missing: [],
      advice: 'Work it.',
      caution: 'Hot exhaust burns.',
    };
    world.api.patch('sk-004', { lastSampleAt, mode: 'working', score });
    world.api.emit('machine', { machineId: 'sk-004', lastSampleAt, mode: 'working', scoreValue: 88.5 });
    await row.getByText(/last sample \d+\ss ago/).waitFor();
    expect(await row.locator('.now-mode').textContent()).toBe('working');
    await row
      .locator('.risk-value')
      .filter({ hasText: '89' })
      .or(row.locator('.risk-value').filter({ hasText: '88' }))
      .waitFor();
    expect(complaints).toEqual([]);
  });

  it('asks sparingly however many events come', async () => {
    const { page } = await world.open('/');
    await page.locator('.live-live').waitFor();
    await page.locator('.machine-name').first().waitFor();
    const before = world.api.requests.length;
    for (let burst = 0; burst < 40; burst += 1) {
      const lastSampleAt = new Date(world.api.nowMs()).toISOString();
      world.api.emit('machine', { machineId: 'sk-001', lastSampleAt, mode: 'idle', scoreValue: burst });
      await page.waitForTimeout(25);
    }
    await page.waitForTimeout(1500);
    expect(world.api.requests.length - before).toBeLessThanOrEqual(3);
  });

  it('stops saying live when the stream is lost, and says it again when it is back', async () => {
    const { page } = await world.open('/');
    await page.locator('.live-live').waitFor();
    world.api.refuseStreams(true);
    await page.locator('.live').filter({ hasText: 'reconnecting' }).waitFor();
    world.api.refuseStreams(false);
    await page.locator('.live-live').waitFor({ timeout: 15_000 });
  }, 30_000);

  it('never shows a silent machine as live', async () => {
    const { page } = await world.open('/');
    await page.locator('.machine-name').first().waitFor();
    const silent = page.locator('.now.silent');
    expect(await silent.count()).toBeGreaterThan(0);
    for (const text of await silent.allTextContents()) expect(text).toMatch(/^(was |not observed).*silent since/);
    // The page of a machine silent for long says how old its newest sample is instead of "live".
    await page.goto(`${world.api.origin}/machines/sk-009`);
    await page.locator('.machine-title').waitFor();
    expect(await page.locator('.live').textContent()).toMatch(/not live: newest sample is .* old/);
    expect(await page.locator('.machine-now .silent').textContent()).toMatch(/silent since/);
  });

  it('puts a new finding on the machine page', async () => {
    const { page } = await world.open('/machines/sk-001');
    await page.locator('.finding').first().waitFor();
    const before = world.api.requests.filter((request) => request.includes('/sk-001/findings')).length;
    world.api.emit('finding', {
      id: 'sk-001~hot-shutdown~1',
      machineId: 'sk-001',
      kind: 'hot-shutdown',
      startedAt: '2026-03-17T13:19:00.000Z',
      endedAt: '2026-03-17T13:19:30.000Z',
      severity: 'severe',
      values: {},
      evidence: {},
      thresholdSet: 'built-in-1',
    });
    await expect
      .poll(() => world.api.requests.filter((request) => request.includes('/sk-001/findings')).length, {
        timeout: 8000,
      })
      .toBeGreaterThan(before);
  });
});
