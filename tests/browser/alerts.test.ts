import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type AlertsWorld, findingOf, openAlertsWorld } from './alerts-world.js';
import { axeFaults } from './axe-faults.js';
import { findChromium } from './browser-world.js';

const chromiumPath = findChromium();
/** Source: design, performance budget: sample to alert on the page within 1 s of its arrival. */
const onPageWithinMs = 1000;

describe.skipIf(chromiumPath === null)('the page of alerts', () => {
  let world: AlertsWorld;
  beforeAll(async () => {
    world = await openAlertsWorld(chromiumPath ?? '');
  });
  afterAll(() => world?.close());

  it('shows by site and machine what waits, and a new one while it happens', async () => {
    const { page, complaints } = await world.open('/alerts');
    await page.locator('.alert-card').first().waitFor();
    const sites = await page.locator('.alert-site h2').allTextContents();
    expect(sites.map((text) => text.trim().split(/ \d/)[0])).toEqual(['Skarnfell quarry', 'Holtmyr pit']);
    await page
      .locator('.live')
      .filter({ hasText: /connected|live/ })
      .waitFor();
    const card = page.locator('.alert-card').filter({ hasText: 'Air filter clogged' });
    expect(await card.count()).toBe(0);
    const values = { restrictionKPa: 6.4, limitKPa: 6 };
    const committed = world.commit(
      findingOf({ machineId: 'ho-201', kind: 'air-filter', startedMin: 0, severity: 'warning', values }),
    );
    const sentMs = performance.now();
    await card.waitFor();
    const tookMs = performance.now() - sentMs;
    await committed;
    expect(tookMs).toBeLessThan(onPageWithinMs);
    expect(await card.textContent()).toContain('air filter at 6.4 kPa of 6 kPa');
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('takes what people do, and says who did it', async () => {
    const { page } = await world.open('/alerts');
    const card = page.locator('.alert-card').filter({ hasText: 'Switched off hot' });
    await card.getByRole('button', { name: 'Assign' }).click();
    await card.getByLabel('Who sees to it').fill('workshop');
    await page.keyboard.press('Enter');
    await card.getByText('workshop sees to it').waitFor();
    await card.getByRole('button', { name: 'Shelve' }).click();
    await card.getByLabel('Why').fill('driver is told tonight');
    await page.keyboard.press('Enter');
    await card.getByText(/On the shelf until .*driver is told tonight/).waitFor();
    await card.getByText('History').click();
    await card.getByText(/put on the shelf by this computer/).waitFor();
    await card.getByRole('button', { name: 'I have seen it' }).click();
    await card.waitFor({ state: 'detached' });
    await page.getByRole('button', { name: /over in 7 days/ }).click();
    await page.locator('.alert-card').filter({ hasText: 'Seen by this computer' }).waitFor();
    expect(page.url()).toContain('show=over');
    await page.context().close();
  });

  it('tries a rule on the last week', async () => {
    const { page } = await world.open('/alerts?view=rules');
    const rule = page.locator('.rule-card').filter({ hasText: 'Idle for over an hour' });
    await rule.getByRole('button', { name: 'Try on last week' }).click();
    expect(await rule.locator('.rule-tried').textContent()).toContain('Would have opened 2 times on 3 machines');
    await page
      .getByLabel('As JSON; what is left out has a default')
      .fill('{ "id": "x", "title": "x", "when": { "figure": "scores" } }');
    await page.locator('.rule-form').getByRole('button', { name: 'Set this rule' }).click();
    await page
      .locator('.rule-form')
      .getByText(/is no figure; did you mean "score"/)
      .waitFor();
    await page.context().close();
  });

  for (const [width, theme] of [
    [1440, 'light'],
    [390, 'dark'],
  ] as const) {
    it(`is accessible and fits at ${width} px, ${theme}`, async () => {
      for (const view of ['alerts', 'rules', 'maintenance']) {
        const { page } = await world.open(`/alerts?theme=${theme}&view=${view}`, { viewport: { width, height: 844 } });
        await page
          .locator(view === 'alerts' ? '.alert-card' : '.rule-form')
          .first()
          .waitFor();
        expect(await axeFaults(page)).toEqual([]);
        const overflow = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
        expect(overflow).toBeLessThanOrEqual(0);
        await page.context().close();
      }
    });
  }
});
