import type { Finding } from '@warmbrick/analysis';
import { variedFleet } from '@warmbrick/simulator';
import { beforeAll, describe, expect, it } from 'vitest';
import { areaUnderCurve, calibrate, type ScoredMoment } from './calibration.js';
import type { Claim, ScoredKind } from './claims.js';
import { coverageOf } from './coverage.js';
import { liveMachine } from './live-machine.js';
import { emptyTally, tallyMachine } from './match-claims.js';
import { reportText } from './report-text.js';
import { runScorecard, type Scorecard } from './run-scorecard.js';

describe('the analysis against simulated machines', () => {
  let card: Scorecard;
  beforeAll(() => {
    card = runScorecard({ machines: 8, days: 2, seed: 3, hasOutlook: false });
  });

  const scoreOf = (kind: ScoredKind) => {
    const score = card.kinds.find((one) => one.kind === kind);
    if (score === undefined) throw new Error(`no ${kind}`);
    return score;
  };

  it.each([
    { kind: 'engine-run', atLeast: 20, foundRatio: 0.95, falsePerMonth: 1 },
    { kind: 'idle-streak', atLeast: 10, foundRatio: 0.95, falsePerMonth: 1 },
    { kind: 'hot-shutdown', atLeast: 10, foundRatio: 0.95, falsePerMonth: 1 },
    { kind: 'regeneration', atLeast: 1, foundRatio: 0.95, falsePerMonth: 1 },
    { kind: 'cold-start', atLeast: 5, foundRatio: 0.95, falsePerMonth: 1 },
    { kind: 'def-fill', atLeast: 4, foundRatio: 0.95, falsePerMonth: 1 },
    { kind: 'def-frost', atLeast: 5, foundRatio: 0.95, falsePerMonth: 1 },
  ] as const)('$kind: at least $foundRatio found, under $falsePerMonth false a machine-month', (floor) => {
    const score = scoreOf(floor.kind);
    expect(score.isMade).toBe(true);
    expect(score.hits + score.misses).toBeGreaterThanOrEqual(floor.atLeast);
    expect(score.foundRatio, score.examples.join('\n')).toBeGreaterThanOrEqual(floor.foundRatio);
    expect(score.falseAlarmsPerMachineMonth, score.examples.join('\n')).toBeLessThan(floor.falsePerMonth);
  });

  it('starts idle streaks and hot stops within a sample or two', () => {
    for (const kind of ['idle-streak', 'hot-shutdown'] as const) {
      expect(scoreOf(kind).worstOffS).toBeLessThanOrEqual(12);
    }
  });

  it('makes a page that names the machines, the seed and what falls short', () => {
    const page = reportText(card, 'Node 20.');
    expect(page).toContain('8 simulated machines over 2 days');
    expect(page).toContain('seed 3');
    expect(page).toContain('| idle-streak');
  });

  it('gives the same again', () => {
    const plan = { machines: 1, days: 1, seed: 3, hasOutlook: false };
    expect(runScorecard(plan)).toEqual(runScorecard(plan));
  });
});

describe('the soot-risk score against what comes', () => {
  /** Machines with urea that sticks, which most blockages happen to, and every tenth of all others. Not of a fitted seed. */
  const seed = 31;
  const fleet = variedFleet({ machines: 200, days: 2, seed }).filter(
    (machine, k) => (machine.aftertreatment?.depositFactor ?? 1) > 1 || k % 10 === 0,
  );
  let moments: ScoredMoment[];
  beforeAll(() => {
    const plan = { startMs: Date.UTC(2026, 0, 11, 23), days: 2, seed, hasOutlook: true };
    moments = fleet.flatMap((machine) => liveMachine(machine, plan).moments);
  }, 600_000);

  it.each([
    { outcome: 'blockage', withinH: 10, auc: 0.9, came: 10 },
    // Measured 0.897: machines without a soot signal that regenerate soon stand before some that block.
    { outcome: 'blockage', withinH: 24, auc: 0.88, came: 10 },
    { outcome: 'derate', withinH: 24, auc: 0.85, came: 5 },
    { outcome: 'regeneration', withinH: 24, auc: 0.75, came: 20 },
  ] as const)('ranks $outcome within $withinH h by an AUC of $auc at least', ({ outcome, withinH, auc, came }) => {
    const calibration = calibrate(moments, outcome, withinH);
    expect(calibration.came).toBeGreaterThanOrEqual(came);
    expect(calibration.auc).toBeGreaterThanOrEqual(auc);
  });
});

describe('the scoring itself', () => {
  const startMs = Date.UTC(2026, 0, 12);
  const coverage = coverageOf(
    [
      {
        machineId: 'loader-1',
        timeMs: Float64Array.from({ length: 7200 }, (_, i) => startMs + i * 1000),
        channels: { engineSpeedRpm: new Float32Array(7200).fill(950) },
      },
    ],
    1,
  );
  const claim = (atS: number, weight: Claim['weight'] = 'required'): Claim => {
    return { kind: 'hot-shutdown', startedMs: startMs + atS * 1000, endedMs: startMs + atS * 1000, weight };
  };
  const finding = (atS: number): Finding => ({
    id: `loader-1~hot-shutdown~${atS}`,
    machineId: 'loader-1',
    kind: 'hot-shutdown',
    startedMs: startMs + atS * 1000,
    endedMs: startMs + atS * 1000,
    severity: 'warning',
    values: {},
    evidence: {},
    thresholdSet: 'x',
    emittedMs: startMs + atS * 1000,
  });
  const tallied = (claims: readonly Claim[], findings: readonly Finding[]) => {
    const tally = emptyTally();
    tallyMachine(tally, claims, { findings, coverage, machineId: 'loader-1' });
    const { hits, misses, falseAlarms, offS } = tally['hot-shutdown'];
    return { hits, misses, falseAlarms, offS };
  };

  it('counts hits with their error, misses and false alarms', () => {
    expect(tallied([claim(600), claim(3000)], [finding(604), finding(5000)])).toEqual({
      hits: 1,
      misses: 1,
      falseAlarms: 1,
      offS: [4],
    });
    expect(tallied([claim(600)], [])).toEqual({ hits: 0, misses: 1, falseAlarms: 0, offS: [] });
  });

  it('neither asks for what is only allowed nor calls it false', () => {
    expect(tallied([claim(600, 'allowed')], [])).toMatchObject({ misses: 0 });
    expect(tallied([claim(600, 'allowed')], [finding(600)])).toMatchObject({ hits: 0, falseAlarms: 0 });
  });

  it('would see an analysis that finds nothing, and one that finds everything', () => {
    const [machine] = variedFleet({ machines: 1, days: 1, seed: 3, habit: 'hurried', hasMishaps: false });
    if (machine === undefined) throw new Error('no machine');
    const life = liveMachine(machine, { startMs: Date.UTC(2026, 0, 11, 23), days: 1, seed: 3, hasOutlook: false });
    const blind = emptyTally();
    tallyMachine(blind, life.claims, { ...life, findings: [] });
    expect(blind['hot-shutdown'].misses).toBeGreaterThan(0);
    expect(blind['hot-shutdown'].hits).toBe(0);
    const own = life.findings[0];
    if (own === undefined) throw new Error('no finding');
    const loud = emptyTally();
    tallyMachine(loud, [], { ...life, findings: [{ ...own, kind: 'hot-shutdown' }] });
    expect(loud['hot-shutdown'].falseAlarms).toBe(1);
  });
});

describe('calibration', () => {
  it('has the area under the curve of Mann and Whitney', () => {
    // Own arithmetic: of 3 x 3 pairs the first is higher in 7, level in 1: 7.5 / 9.
    expect(areaUnderCurve([5, 8, 9], [1, 5, 6])).toBeCloseTo(7.5 / 9, 12);
    expect(areaUnderCurve([1, 2], [3, 4])).toBe(0);
    expect(areaUnderCurve([2, 2], [2, 2])).toBe(0.5);
    expect(areaUnderCurve([], [1])).toBeNull();
  });

  it('puts scores into ten bins and leaves out what cannot be told', () => {
    const moment = (score: number, any: boolean | null): ScoredMoment => {
      const hoursUntil = { regeneration: null, blockage: null, derate: null, any: any === true ? 3 : null };
      return { score, hasSootSignal: true, hoursUntil, livedH: any === null ? 20 : 60 };
    };
    const { moments, came, auc, bins } = calibrate(
      [moment(100, true), moment(95, true), moment(3, false), moment(50, null)],
      'any',
    );
    expect({ moments, came, auc }).toEqual({ moments: 3, came: 2, auc: 1 });
    expect(bins).toHaveLength(10);
    expect(bins[9]).toMatchObject({ fromScore: 90, moments: 2, came: 2 });
    expect(bins[5]).toMatchObject({ moments: 0, meanScore: null });
  });
});
