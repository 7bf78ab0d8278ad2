import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { type BrowserWorld, findChromium, openWorld } from './browser-world.js';
import { demoCases as built } from './demo-load.js';

const chromiumPath = findChromium();

describe.skipIf(chromiumPath === null)('score and loads', () => {
  let world: BrowserWorld;
  beforeAll(async () => {
    world = await openWorld(chromiumPath ?? '');
  });
  afterEach(() => world.closePages());
  afterAll(() => world?.close());

  it('show what has built up, how sure that is, what clears it and when the limit comes', async () => {
    const { page, complaints } = await world.open(`/machines/${built.measured}`);
    const section = page.locator('.built-up');
    const text = async () => ((await section.textContent()) ?? '').replace(/\u00a0/g, ' ');
    await section.getByText('of the limit').first().waitFor();
    expect(await text()).toContain('64 % of the limit 25.6 g of 40 g');
    expect(await text()).toContain('Measured: the machine’s own soot signal, carried on by a model. Give or take 6 %');
    expect(await text()).toContain('About 45 min of work above 400 °C until clean');
    expect(await text()).toContain('the soot limit is about 32 running hours away');
    // Known value: 400 C is 752 F.
    await page.getByLabel('Units').selectOption('imperial');
    await section.getByText('752 °F').waitFor();
    // The caution stands in the same column, right before it.
    expect(await page.locator('.advice:has(.caution) + .built-up').count()).toBe(1);
    expect(complaints).toEqual([]);
  });

  it('say so where work alone clears nothing, the limit is reached or never, and no filter is there', async () => {
    const says = async (id: string) => {
      const { page } = await world.open(`/machines/${id}`);
      await page.locator('.built-up').waitFor();
      const courses = await page.locator('.built-up .load-course').count();
      const overPaths = await page
        .locator('.built-up .load-over')
        .evaluateAll((paths) => paths.map((path) => path.getAttribute('d') ?? '').join(''));
      const text = ((await page.locator('.built-up').textContent()) ?? '').replace(/\u00a0/g, ' ');
      return { courses, isOver: overPaths !== '', text };
    };
    const over = await says(built.over);
    expect(over).toMatchObject({ courses: 2, isOver: true });
    expect(over.text).toContain('128 % of the limit: over it');
    expect(over.text).toContain('Work alone will not clear it: have it looked at.');
    expect(over.text).toContain('The soot limit is reached now.');
    const clean = await says(built.clean);
    expect(clean).toMatchObject({ courses: 2, isOver: false });
    expect(clean.text).toContain('Clean as it is');
    expect(clean.text).toContain('soot burns off as fast as it comes');
    expect((await says(built.modelled)).text).toContain('the machine has sent no soot signal. Give or take 19 %');
    const unfiltered = await says(built.unfiltered);
    expect(unfiltered.courses).toBe(1);
    expect(unfiltered.text).toContain('This machine has no particulate filter');
    expect(unfiltered.text).not.toContain('soot limit');
    expect((await says('sk-011')).text).toContain('Nothing to say until the engine has been seen running.');
  });

  it('tell the parts of a score by shape, by a colour that stands out, and in the key; an unknown part too', async () => {
    world.api.patch('sk-009', {
      score: {
        value: 50,
        parts: { 'soot-load': 10, deposits: 10, 'cold-running': 10, idling: 7, 'hot-stops': 6, 'brand-new': 7 },
        confidence: 0.9,
        missing: [],
        advice: 'Work it warm.',
        caution: null,
      },
    });
    for (const colorScheme of ['light', 'dark'] as const) {
      const { page } = await world.open('/machines/sk-009', { colorScheme });
      const bar = page.locator('.risk-block .parts-bar');
      await bar.waitFor();
      expect(await bar.getAttribute('aria-label')).toBe(
        'Made of soot in the filter 10.0, deposits 10.0, cold running 10.0, idling 7.0, hot stops 6.0, brand new 7.0',
      );
      expect(await page.locator('.parts dt').allTextContents()).toEqual([
        'Soot in the filter',
        'Deposits',
        'Cold running',
        'Idling',
        'Hot stops',
        'brand new',
      ]);
      const contrasts = await bar.evaluate((element) => {
        const luminance = (colour: string) => {
          const [r = 0, g = 0, b = 0] = (colour.match(/[\d.]+/g) ?? []).map((part) => {
            const value = Number(part) / 255;
            return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
          });
          return 0.2126 * r + 0.7152 * g + 0.0722 * b;
        };
        const face = luminance(getComputedStyle(element.closest('section') as Element).backgroundColor);
        return [...element.querySelectorAll('path:not(.parts-rule)')].map((path) => {
          const fill = luminance(getComputedStyle(path).fill);
          return (Math.max(fill, face) + 0.05) / (Math.min(fill, face) + 0.05);
        });
      });
      // WCAG 2.2, 1.4.11: graphics at least 3 : 1 against what is beside them.
      expect(contrasts.length).toBe(6);
      for (const contrast of contrasts) expect(contrast, colorScheme).toBeGreaterThanOrEqual(3);
    }
    const { page } = await world.open('/');
    await page.locator('.machine-name').first().waitFor();
    const key = (await page.locator('.course-key').first().textContent()) ?? '';
    for (const name of ['soot in the filter', 'deposits', 'cold running', 'idling', 'hot stops']) {
      expect(key).toContain(name);
    }
  });
});
