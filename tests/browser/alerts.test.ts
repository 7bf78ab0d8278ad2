import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type AlertsWorld, findingOf, openAlertsWorld } from './alerts-world.js';
import { axeFaults } from './axe-faults.js';
import { findChromium } from './browser-world.js';

const chromiumPath = findChromium();
/** Where to leave pictures of the pages for looking at; nowhere unless it is said. */
const pictures = process.env.WARMBRICK_PICTURES;

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
    await card.waitFor();
    await committed;
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

  it('says in the masthead of every page how many wait, and counts along', async () => {
    const { page, complaints } = await world.open('/');
    const link = page.getByRole('navigation', { name: 'Pages' }).getByRole('link', { name: /^Alerts/ });
    await link.locator('.waiting-count').waitFor();
    await page
      .locator('.live')
      .filter({ hasText: /connected|live/ })
      .waitFor();
    const before = Number(await link.locator('.waiting-count').textContent());
    expect(await link.textContent()).toContain(`${before} wait for somebody`);
    const values = { concentrationPct: 24, lowPct: 31.8, highPct: 33.2 };
    await world.commit(
      findingOf({ machineId: 'sk-102', kind: 'def-quality', startedMin: 0, severity: 'warning', values }),
    );
    await expect.poll(() => link.locator('.waiting-count').textContent()).toBe(`${before + 1}`);
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('shows the open alerts of a machine on its page, each a way to its card', async () => {
    const { page, complaints } = await world.open('/machines/sk-101');
    const lines = page.locator('.machine-alerts li');
    await lines.first().waitFor();
    const titles = await lines.getByRole('link').allTextContents();
    expect(titles).toEqual(expect.arrayContaining(['DEF under 10 %', 'Idle for over an hour']));
    expect(await page.locator('.machine-alerts h2').textContent()).toContain(`${titles.length} open alerts`);
    await lines.getByRole('link', { name: 'DEF under 10 %' }).click();
    await page.locator('.alert-chosen').filter({ hasText: 'DEF under 10 %' }).waitFor();
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('tries a rule on the last week', async () => {
    const { page } = await world.open('/alerts?view=rules');
    const rule = page.locator('.rule-card').filter({ hasText: 'Idle for over an hour' });
    await rule.getByRole('button', { name: 'Try on last week' }).click();
    expect(await rule.locator('.rule-tried').textContent()).toContain('Would have opened 2 times on 3 machines');
    await page.getByRole('button', { name: 'Write a rule' }).click();
    await page.getByRole('button', { name: 'Write it as text' }).click();
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

  async function look(page: Page): Promise<void> {
    if (pictures === undefined) return;
    await page.screenshot({ path: join(pictures, 'rule-form.png'), fullPage: true });
    await page.setViewportSize({ width: 390, height: 844 });
    await page.emulateMedia({ colorScheme: 'dark' });
    await page.screenshot({ path: join(pictures, 'rule-form-phone.png') });
    await page.setViewportSize({ width: 1440, height: 900 });
  }

  it('writes a rule by fields, and changes one that is there', async () => {
    const { page, complaints } = await world.open('/alerts?view=rules');
    await page.getByRole('button', { name: 'Write a rule' }).click();
    const form = page.locator('.rule-form');
    await form.getByLabel('Title, as people read it').fill('Soot near its limit');
    await form
      .locator('label')
      .filter({ hasText: /^Figure/ })
      .locator('select')
      .selectOption('sootRatio');
    await form.getByLabel('Of', { exact: true }).fill('0.8');
    await form.getByLabel('Over again below').fill('0.6');
    await form.getByLabel('Opens after, min').fill('10');
    expect(await axeFaults(page)).toEqual([]);
    await look(page);
    await form.getByRole('button', { name: 'Set this rule' }).click();
    const own = page.locator('.rule-card').filter({ hasText: 'Soot near its limit' });
    await own.waitFor();
    expect(await own.textContent()).toContain('soot load as a share of its limit at least 0.8, until below 0.6');
    expect(await own.textContent()).toMatch(/opens after 10\smin/);
    await own.getByRole('button', { name: 'Change' }).click();
    await form.getByLabel('Opens after, min').fill('20');
    await form.getByRole('button', { name: 'Set this rule' }).click();
    await page
      .locator('.rule-card')
      .filter({ hasText: /opens after 20\smin/ })
      .waitFor();
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  for (const [width, theme] of [
    [1440, 'light'],
    [390, 'dark'],
  ] as const) {
    it(`is accessible and fits at ${width} px, ${theme}`, async () => {
      for (const [path, mark] of [
        ['/alerts?', '.alert-card'],
        ['/alerts?view=rules&', '.rule-card'],
        ['/alerts?view=maintenance&', '.rule-form'],
        ['/machines/sk-101?', '.machine-alerts'],
      ] as const) {
        const { page } = await world.open(`${path}theme=${theme}`, { viewport: { width, height: 844 } });
        await page.locator(mark).first().waitFor();
        await page.locator('.waiting-count').waitFor();
        expect(await axeFaults(page)).toEqual([]);
        const overflow = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
        expect(overflow).toBeLessThanOrEqual(0);
        await page.context().close();
      }
    });
  }
});
