import {
  builtInThresholds,
  createAnalyzer,
  createScheduledAnalyzer,
  type Finding,
  type ThresholdSet,
} from '@warmbrick/analysis';
import { defaultProfile, sliceBlock } from '@warmbrick/signals';
import { idle, off, recordingOf, work } from '@warmbrick/testkit';
import {
  type PlacedMachine,
  promotionLeadMs,
  promotionStartMs,
  rollbackOf,
  type SetPromotion,
  setSchedule,
  versionInForce,
} from '@warmbrick/tuning';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const machine: PlacedMachine = { machineId: 'loader-1', machineClass: 'wheel loader', fleetId: 'north' };
const promotion = (
  id: number,
  version: string | null,
  fromMs: number,
  kind: SetPromotion['scope']['kind'] = 'all',
  name: string | null = null,
): SetPromotion => ({ id, version, scope: { kind, name }, fromMs, isRecomputed: false });

const set = (version: string, idleLimitS: number): ThresholdSet => ({
  version,
  values: { ...builtInThresholds.values, idleLimitS },
});

describe('the set in force', () => {
  it('is the narrowest scope, and in it the latest start', () => {
    const list = [
      promotion(1, 'for-all', 10),
      promotion(2, 'for-fleet', 20, 'fleet', 'north'),
      promotion(3, 'for-class', 30, 'class', 'wheel loader'),
      promotion(4, 'for-machine', 40, 'machine', 'loader-1'),
      promotion(5, 'elsewhere', 0, 'fleet', 'south'),
      promotion(6, 'for-all-2', 50),
    ];
    const at = (atMs: number) => versionInForce(list, machine, atMs);
    expect([5, 15, 25, 35, 45, 99].map(at)).toEqual([
      null,
      'for-all',
      'for-fleet',
      'for-class',
      'for-machine',
      'for-machine',
    ]);
    expect(versionInForce(list, { ...machine, fleetId: 'south', machineClass: 'x', machineId: 'y' }, 99)).toBe(
      'elsewhere',
    );
  });

  it('goes back to what held before, or to the wider scope', () => {
    const list = [promotion(1, 'a', 10), promotion(2, 'b', 20, 'class', 'wheel loader')];
    const second = list[1] as SetPromotion;
    const back = { ...promotion(3, null, 30), ...rollbackOf(list, second) };
    expect(back).toMatchObject({ version: null, scope: { kind: 'class' } });
    expect(versionInForce([...list, back], machine, 25)).toBe('b');
    expect(versionInForce([...list, back], machine, 35)).toBe('a');
    const third = promotion(4, 'c', 40);
    expect(rollbackOf([...list, back, third], third)).toMatchObject({ version: 'a' });
  });

  it('has a schedule that says the same at any time (any list)', () => {
    const versions = ['a', 'b', 'c'];
    const byVersion = new Map(versions.map((version) => [version, set(version, 1000)]));
    const entry = fc.record({
      version: fc.constantFrom(...versions, null),
      fromMs: fc.nat(20),
      scope: fc.constantFrom<SetPromotion['scope']>(
        { kind: 'all', name: null },
        { kind: 'fleet', name: 'north' },
        { kind: 'class', name: 'wheel loader' },
        { kind: 'machine', name: 'loader-1' },
        { kind: 'machine', name: 'another' },
      ),
    });
    fc.assert(
      fc.property(fc.array(entry, { maxLength: 12 }), fc.nat(25), (entries, atMs) => {
        const list = entries.map((one, i): SetPromotion => ({ ...one, id: i + 1, isRecomputed: false }));
        const schedule = setSchedule(list, machine, { builtIn: builtInThresholds, byVersion });
        const scheduled = schedule.findLast(({ fromMs }) => fromMs <= atMs)?.thresholds.version ?? 'built-in-1';
        expect(scheduled).toBe(versionInForce(list, machine, atMs) ?? 'built-in-1');
        for (let i = 1; i < schedule.length; i++) {
          expect(schedule[i]?.fromMs).toBeGreaterThan(schedule[i - 1]?.fromMs as number);
        }
      }),
    );
  });

  it('begins in two minutes, later when asked, and in the past only when it is computed anew', () => {
    const at = { nowMs: 1_000_000, isRecomputed: false };
    expect(promotionStartMs(null, at)).toBe(1_000_000 + promotionLeadMs);
    expect(promotionStartMs(5_000_000, at)).toBe(5_000_000);
    expect(promotionStartMs(1_000_001, at)).toBeNull();
    expect(promotionStartMs(5, { ...at, isRecomputed: true })).toBe(5);
  });
});

describe('an analyzer with a schedule', () => {
  const block = recordingOf([off(60), work(1800), idle(2700), work(900), idle(2700), work(600), off(900)]);
  const firstMs = block.timeMs[0] as number;
  const strict = set('strict', 1800);
  const options = { machineId: block.machineId, profile: defaultProfile, thresholds: builtInThresholds };
  const idles = (findings: readonly Finding[]) => findings.filter(({ kind }) => kind === 'idle-streak');

  it('judges before by one set and from its time on by the other', () => {
    const fromMs = firstMs + (60 + 1800 + 2700 + 450) * 1000;
    const analyzer = createScheduledAnalyzer({ ...options, schedule: [{ fromMs, thresholds: strict }] });
    const { findings } = analyzer.push(block);
    expect(idles(createAnalyzer(options).push(block).findings)).toHaveLength(0);
    const found = new Map(idles(findings).map((one) => [one.id, one]));
    expect(found.size).toBe(1);
    expect([...found.values()][0]).toMatchObject({ thresholdSet: 'strict', values: { durationS: 2700, limitS: 1800 } });
  });

  it('carries over what goes on: the streak is judged by its whole length at once', () => {
    const fromMs = firstMs + (60 + 1800 + 2000) * 1000;
    const analyzer = createScheduledAnalyzer({ ...options, schedule: [{ fromMs, thresholds: strict }] });
    analyzer.push(sliceBlock(block, 0, 60 + 1800 + 1990));
    const { findings } = analyzer.push(sliceBlock(block, 60 + 1800 + 1990, 60 + 1800 + 2060));
    expect(idles(findings)[0]).toMatchObject({ startedMs: firstMs + 1_860_000, endedMs: null });
  });

  it('gives the same however the samples are cut, and from any snapshot', () => {
    const schedule = [
      { fromMs: firstMs + 3_000_000, thresholds: strict },
      { fromMs: firstMs + 6_000_000, thresholds: builtInThresholds },
    ];
    const whole = createScheduledAnalyzer({ ...options, schedule });
    const last = (findings: readonly { id: string }[]) => [...new Map(findings.map((one) => [one.id, one])).values()];
    const wholeFindings = whole.push(block).findings;
    fc.assert(
      fc.property(fc.nat(block.timeMs.length), (cut) => {
        const first = createScheduledAnalyzer({ ...options, schedule });
        const before = cut === 0 ? [] : first.push(sliceBlock(block, 0, cut)).findings;
        const snapshot = cut === 0 ? {} : { snapshot: JSON.parse(JSON.stringify(first.snapshot())) };
        const second = createScheduledAnalyzer({ ...options, schedule, ...snapshot });
        const after = second.push(sliceBlock(block, cut, block.timeMs.length)).findings;
        const strip = (findings: readonly { id: string }[]) =>
          last(findings)
            .map((one) => ({ ...one, emittedMs: 0 }))
            .sort((a, b) => (a.id < b.id ? -1 : 1));
        expect(strip([...before, ...after])).toEqual(strip(wholeFindings));
        expect(second.summary()).toEqual(whole.summary());
      }),
      { numRuns: 40 },
    );
  });
});
