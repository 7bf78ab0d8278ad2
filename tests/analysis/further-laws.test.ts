/** The laws of arrival on a recording in which every finding of the further channels happens. */

import {
  type AnalyzerSnapshot,
  builtInThresholds,
  createAnalyzer,
  createTimeline,
  type Finding,
  type FindingKind,
} from '@warmbrick/analysis';
import { type ChannelName, defaultProfile, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { createMemoryArchive, recordingOf, type Segment } from '@warmbrick/testkit';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { analyse, comparable } from './analyse.js';

type Values = Partial<Record<ChannelName, number>>;

const stepS = 30;
const frost: Values = { ambientTempC: -18, coolantTempC: -15, defTempC: -20, defTankHeaterPct: 100 };
const working: Values = {
  engineSpeedRpm: 1700,
  engineLoadPct: 85,
  exhaustTempC: 390,
  coolantTempC: 85,
  ambientTempC: 5,
  defTempC: 12,
  defTankHeaterPct: 0,
  fuelRateLPerH: 40,
};
const minutes = (count: number, at: (minute: number) => Values): Segment[] =>
  Array.from({ length: count }, (_, minute) => ({ forS: 60, values: at(minute) }));
const work = (count: number, more: Values = {}) => minutes(count, () => ({ ...working, ...more }));
const still = (count: number, more: Values = {}) =>
  minutes(count, () => ({
    ...working,
    engineSpeedRpm: 0,
    engineLoadPct: 0,
    exhaustTempC: 40,
    fuelRateLPerH: 0,
    ...more,
  }));
const dosed = (ratio: number): Values => ({ defDosingGPerH: 40 * ratio * 1090, defLevelPct: 60 });

const eventful = recordingOf(
  [
    still(5, { ...frost, exhaustTempC: -18, defLevelPct: 97 }),
    minutes(90, (m) => ({
      ...working,
      ...frost,
      defLevelPct: 97,
      engineLoadPct: m < 3 ? 10 : 85,
      exhaustTempC: 40 + 4 * m,
    })),
    still(20, { ...frost, defLevelPct: 97 }),
    work(30, { defLevelPct: 96, defTempC: -5, ambientTempC: -18 }),
    still(6, { defLevelPct: 96, defTempC: -5, ambientTempC: -18 }),
    work(10, { defLevelPct: 96 }),
    still(10, { defLevelPct: 50 }),
    work(30, { defLevelPct: 50 }),
    still(10, { defLevelPct: 90 }),
    work(420, { ...dosed(0.06), noxInPpm: 800, noxOutPpm: 40 }),
    work(200, { ...dosed(0.03), noxInPpm: 800, noxOutPpm: 300, defConcentrationPct: 25 }),
    work(30, { activeRegenState: 2, regenInhibitedState: 1, dpfSootPct: 105 }),
    work(40, { activeRegenState: 1, regenInhibitedState: 0, dpfSootPct: 70 }),
    work(10, { activeRegenState: 0, dpfSootPct: 30, defConcentrationPct: 32.5 }),
    minutes(60, (m) => ({
      ...working,
      engineLoadPct: Math.round(60 + 30 * Math.sin(m / 3)),
      dpfInletTempC: 350,
      scrInletTempC: 330 + (m % 5),
      scrOutletTempC: 390 + (m % 4),
    })),
    work(120, { exhaustFlowKgPerH: 700, airFilterDeltaPressureKPa: 6.5 }),
    still(6, { defLevelPct: 22 }),
    minutes(90, (m) => ({ ...working, defLevelPct: Math.max(2, 22 - m / 4), defDosingGPerH: 4900 })),
    work(30, { torqueLimitPct: 100, inducementSeverity: 0 }),
    work(20, { torqueLimitPct: 75, inducementSeverity: 3 }),
    work(10, { torqueLimitPct: 100, inducementSeverity: 0 }),
  ].flat(),
  { stepS },
);

const kinds: readonly FindingKind[] = [
  'cold-start',
  'regeneration',
  'regeneration-inhibited',
  'def-fill',
  'def-drop',
  'def-low',
  'def-empty-forecast',
  'def-consumption',
  'def-quality',
  'def-frost',
  'def-heater',
  'nox-conversion',
  'air-filter',
  'sensor-suspect',
  'derate',
];
const options = { machineId: 'test-machine', profile: defaultProfile, thresholds: builtInThresholds };
const whole = analyse(eventful);
const length = eventful.timeMs.length;

/** Some rows of a block, in the order given. */
function rowsOf(block: SampleBlock, rows: readonly number[]): SampleBlock {
  const channels = Object.fromEntries(
    Object.entries(block.channels).map(([name, column]) => [
      name,
      column instanceof Float64Array
        ? Float64Array.from(rows, (i) => column[i] as number)
        : Float32Array.from(rows, (i) => (column as Float32Array)[i] as number),
    ]),
  );
  return { machineId: block.machineId, timeMs: Float64Array.from(rows, (i) => block.timeMs[i] as number), channels };
}

describe('a recording in which everything happens', () => {
  it('has every kind of finding', () => {
    const found = new Set(whole.findings.map((finding) => finding.kind));
    expect(kinds.filter((kind) => !found.has(kind))).toEqual([]);
  });

  it('gives the same findings wherever it is cut, with snapshots through JSON', () => {
    fc.assert(
      fc.property(fc.array(fc.nat(length), { maxLength: 40 }), (places) => {
        const at = [...new Set([0, ...places, length])].sort((a, b) => a - b);
        let analyzer = createAnalyzer(options);
        const findings = new Map<string, Finding>();
        for (let k = 1; k < at.length; k++) {
          const { findings: said } = analyzer.push(sliceBlock(eventful, at[k - 1] as number, at[k] as number));
          for (const finding of said) findings.set(finding.id, finding);
          const snapshot = JSON.parse(JSON.stringify(analyzer.snapshot())) as AnalyzerSnapshot;
          expect(JSON.stringify(snapshot).length).toBeLessThan(8192);
          analyzer = createAnalyzer({ ...options, snapshot });
        }
        expect(comparable([...findings.values()])).toEqual(comparable(whole.findings));
      }),
      { numRuns: 40 },
    );
  });

  it('gives the same findings when hours of it come late', async () => {
    await fc.assert(
      fc.asyncProperty(fc.nat(length), fc.integer({ min: 1, max: 400 }), fc.nat(length), async (from, count, back) => {
        const order = Array.from({ length }, (_, i) => i);
        const late = order.splice(from, count);
        order.splice(Math.min(order.length, from + back), 0, ...late);
        const archive = createMemoryArchive('test-machine');
        const timeline = createTimeline({ ...options, ports: archive.ports });
        for (let k = 0; k < order.length; k += 97) {
          archive.commit(await timeline.accept(rowsOf(eventful, order.slice(k, k + 97))));
        }
        expect(comparable(archive.findings())).toEqual(comparable(whole.findings));
      }),
      { numRuns: 25 },
    );
  });
});
