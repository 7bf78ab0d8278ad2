/** Measures the bench page: a machine-month at 1 Hz in headless Chromium, from the slider to the answer. */

import { builtInThresholds } from '@warmbrick/analysis';
import { createIngest } from '@warmbrick/ingest';
import { machineProfileSchema } from '@warmbrick/signals';
import { createSimulation, quarryFleet, type SimulatedMachine } from '@warmbrick/simulator';
import type { Page } from 'playwright-core';
import { findChromium } from '../browser/browser-world.js';
import { openRealWorld } from '../browser/real-world.js';
import { benchChannels } from './bench-file.js';

export interface SliderFigures {
  readonly samples: number;
  readonly loadS: number;
  /** Rounds of each threshold. */
  readonly rounds: number;
  readonly moves: readonly SliderMove[];
}

interface SliderMove {
  readonly threshold: string;
  readonly what: string;
  /** In the worker, from the question to the findings; and on the page, from the input to the drawn answer. */
  readonly workerMs: number;
  readonly pageMs: number;
}

/** Fewer for a trial of the bench itself. */
const days = Number(process.env.WARMBRICK_SLIDER_DAYS ?? 30);
const dayMs = 86_400_000;
const startMs = Date.UTC(2026, 2, 2);
const rounds = 9;

/** Figures, or null where there is no Chromium. `picture` gets a picture of the page. */
export async function measureSlider(picture?: string): Promise<SliderFigures | null> {
  const chromium = findChromium();
  if (chromium === null) return null;
  const world = await openRealWorld(chromium);
  try {
    const machine = quarryFleet[0] as SimulatedMachine;
    await fill(world.store, machine);
    const startedAt = performance.now();
    const { page } = await world.open(`/machines/${machine.machineId}/bench?days=31`);
    await page.getByText(/samples answered in/).waitFor({ timeout: 300_000 });
    const loadS = (performance.now() - startedAt) / 1000;
    const samples = Number(
      (await page.getByText(/samples answered in/).textContent())?.match(/([\d,]+) samples/)?.[1]?.replaceAll(',', ''),
    );
    const moves = [
      await move(page, {
        group: 'Idling',
        label: 'Idle longer than this is told of',
        threshold: 'idleLimitS',
        values: [1500, 2100],
      }),
      await move(page, {
        group: 'Cold running',
        label: 'Below the window longer than this is told of',
        threshold: 'coldLimitS',
        values: [1800, 2400],
      }),
      await move(page, {
        group: 'Stops',
        label: 'Turbine metal from which a stop is hot',
        threshold: 'hotMetalC',
        values: [180, 230],
      }),
      await move(page, {
        group: 'Stops',
        label: 'Cool-down wanted before key-off',
        threshold: 'cooldownWantedS',
        values: [200, 260],
      }),
    ];
    if (picture !== undefined) await page.screenshot({ path: picture, fullPage: true });
    return { samples, loadS, rounds, moves };
  } finally {
    await world.close();
  }
}

/** A machine at work round the clock, a sample a second. */
async function fill(store: Parameters<typeof createIngest>[0]['store'], machine: SimulatedMachine): Promise<void> {
  const ingest = createIngest({ store, thresholds: builtInThresholds, logger: { info() {}, warn() {}, error() {} } });
  await ingest.register(machine.machineId, machineProfileSchema.parse(machine.profile));
  const shifts = { ...machine.profile, shifts: [{ name: 'all', start: '00:00', end: '23:59' }] };
  const gateway = { samplePeriodS: 1, awakeAfterKeyOffS: 86_400 };
  const simulation = createSimulation(
    { ...machine, profile: shifts, gateway, channels: [...benchChannels] } as SimulatedMachine,
    { seed: 1, startMs },
  );
  for (let day = 1; day <= days; day++) {
    const block = simulation.advanceTo(startMs + day * dayMs);
    if (block !== null) await ingest.accept([block], { isRecorded: true });
    process.stderr.write(`\rday ${day} of ${days} `);
  }
  process.stderr.write('\n');
  await ingest.close();
}

interface Moved {
  readonly group: string;
  readonly label: string;
  readonly threshold: string;
  readonly values: readonly [number, number];
}

async function move(page: Page, { group, label, threshold, values }: Moved): Promise<SliderMove> {
  await page.getByRole('button', { name: new RegExp(`^${group}`) }).click();
  const workers: number[] = [];
  const pages: number[] = [];
  for (let round = 0; round < rounds; round++) {
    // Never the same value twice: what was answered before would be remembered.
    const value = (values[round % 2] as number) + round;
    const [worker, whole] = await page.evaluate(
      ([text, next]) =>
        new Promise<[number, number]>((resolve) => {
          const field = document.querySelector<HTMLInputElement>(`input[type=number][aria-label^="${text}"]`);
          const result = document.querySelector('.bench-result');
          if (field === null || result === null) throw new Error('not the bench page');
          const startedAt = performance.now();
          const watch = new MutationObserver(() => {
            const elapsed = document.querySelector('[data-elapsed-ms]')?.getAttribute('data-elapsed-ms');
            watch.disconnect();
            requestAnimationFrame(() => resolve([Number(elapsed), performance.now() - startedAt]));
          });
          watch.observe(result, { subtree: true, attributes: true, attributeFilter: ['data-elapsed-ms'] });
          setTimeout(() => resolve([Number.NaN, Number.NaN]), 30_000);
          field.value = String(next);
          field.dispatchEvent(new Event('change', { bubbles: true }));
        }),
      [label, value] as const,
    );
    workers.push(worker);
    pages.push(whole);
    // Lets the score that follows come to its end.
    await page.getByText(/Soot risk (stays|[\d.–]+ →)/).waitFor({ timeout: 60_000 });
  }
  return { threshold, what: label, workerMs: median(workers), pageMs: median(pages) };
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] as number;
}
