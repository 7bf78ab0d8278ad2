import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeFaults } from './axe-faults.js';
import { findChromium } from './browser-world.js';
import { openRealWorld, type RealWorld } from './real-world.js';

const chromiumPath = findChromium();

describe.skipIf(chromiumPath === null)('who is told', () => {
  let world: RealWorld;
  beforeAll(async () => {
    world = await openRealWorld(chromiumPath ?? '');
  });
  afterAll(() => world?.close());

  it('can be added with a secret that is shown once, turned off and deleted', async () => {
    const { page, complaints } = await world.open('/destinations');
    await page.getByText('Nobody is told of alerts yet').waitFor();
    await page.getByLabel('Name').fill('Dispatch');
    await page.getByLabel('Address, https').fill('https://hooks.example/warm');
    await page.getByLabel('Quiet from').fill('22:00');
    await page.getByLabel('Quiet until').fill('06:00');
    await page.getByRole('button', { name: 'Tell them' }).click();
    await page.getByText('shown this once').waitFor();
    const secret = await page.locator('.secret code').textContent();
    expect((await world.store.listDestinations())[0]).toMatchObject({
      name: 'Dispatch',
      secrets: [secret],
      quiet: { from: '22:00', to: '06:00' },
    });
    const card = page.getByRole('region', { name: 'Dispatch' });
    await card.getByText('warnings and above').waitFor();
    expect(await axeFaults(page)).toEqual([]);
    await card.getByRole('button', { name: 'Turn off' }).click();
    await card.getByText('off', { exact: true }).waitFor();
    await card.getByRole('button', { name: 'New secret' }).click();
    await card.locator('.secret').waitFor();
    expect((await world.store.listDestinations())[0]).toMatchObject({
      isEnabled: false,
      secrets: [expect.anything(), secret],
    });
    page.on('dialog', (dialog) => void dialog.accept());
    await card.getByRole('button', { name: 'Delete' }).click();
    await page.getByText('Nobody is told of alerts yet').waitFor();
    expect(complaints).toEqual([]);
  });

  it('show what was sent with every try, and send it once more', async () => {
    const { store } = world;
    await store.putDestination({
      ...{ id: 'd', fleetId: 'main', name: 'Night shift', kind: 'mqtt', address: 'alerts', secrets: [] },
      ...{ leastSeverity: 'info', sites: [], machineIds: [], rules: [], quiet: null, digestMinutes: null },
      ...{ includesPast: false, isEnabled: true },
    });
    const text = { subject: 'Loader: idle for over an hour', body: 'b', text: 't' };
    await store.fanOut(
      [],
      [
        {
          ...text,
          ...{ id: 'msg_1', destinationId: 'd', machineId: 'm', threadId: 't', availableMs: 0, onlyIfHeard: false },
        },
      ],
    );
    const attempt = { atMs: Date.now(), result: 'failed', status: 'mqtt', detail: 'not connected', tookMs: 3 } as const;
    await store.recordAttempts([{ deliveryId: 'msg_1', attempt, state: 'dead', availableMs: 0 }]);
    const phone = { viewport: { width: 390, height: 844 }, isMobile: true };
    const { page, complaints } = await world.open('/destinations?sent=dead', { ...phone, colorScheme: 'dark' });
    await page.getByText('Loader: idle for over an hour').waitFor();
    await page.getByText('Every try').click();
    await page.getByText('not connected').waitFor();
    expect(await axeFaults(page)).toEqual([]);
    expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
    await page.getByRole('button', { name: 'Send once more' }).click();
    await page.getByText('Nothing yet.').waitFor();
    expect((await store.listDeliveries({ limit: 1 })).items[0]?.state).toBe('waiting');
    expect(complaints).toEqual([]);
  });
});
