import { createRandom } from '@warmbrick/simulator';
import {
  bootstrapInterval,
  figureInterval,
  type JudgingRule,
  judgeMachine,
  type MachineOutcome,
  outcomeFigures,
  sameKindRule,
  splitMachines,
  type TrialFinding,
  type TruthLabel,
  usualAnalysts,
  usualWeights,
} from '@warmbrick/tuning';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const hourMs = 3_600_000;
const dayMs = 24 * hourMs;

function finding(startedH: number, endedH: number, raisedH = endedH): TrialFinding {
  const startedMs = startedH * hourMs;
  return {
    finding: {
      id: `m~idle-streak~${startedMs}`,
      machineId: 'm',
      kind: 'idle-streak',
      startedMs,
      endedMs: endedH * hourMs,
      severity: 'warning',
      values: {},
      evidence: {},
      thresholdSet: 'a',
      emittedMs: endedH * hourMs,
    },
    raisedMs: raisedH * hourMs,
  };
}

const label = (startedH: number, endedH: number | null, isRequired = true, kind = 'idle-streak'): TruthLabel => ({
  machineId: 'm',
  kind,
  startedMs: startedH * hourMs,
  endedMs: endedH === null ? null : endedH * hourMs,
  isRequired,
});

const judged = (
  findings: TrialFinding[],
  labels: TruthLabel[],
  rules: JudgingRule[] = [sameKindRule('idle-streak')],
): MachineOutcome =>
  judgeMachine({ machineId: 'm', machineClass: 'loader', observedMs: 30.4375 * dayMs, findings, labels, rules });

describe('judging', () => {
  it('counts hits, misses and false alarms, and optional labels as neither', () => {
    const outcome = judged(
      [finding(1, 2), finding(5, 6), finding(9, 10)],
      [label(1.2, 3), label(9, 10, false), label(20, 21), label(30, 31, false)],
    );
    expect(outcome).toMatchObject({ labels: 2, hits: 1, misses: 1, raised: 3, falseAlarms: 1 });
  });

  it('counts a label once, however many findings answer it', () => {
    expect(judged([finding(1, 2), finding(2.5, 3)], [label(1, 3)])).toMatchObject({ hits: 1, falseAlarms: 0 });
  });

  it('takes a warning only within its time ahead', () => {
    const rules: JudgingRule[] = [{ label: 'derate', findings: ['idle-streak'], foretellsMs: 10 * hourMs }];
    const outcome = (raisedH: number) => judged([finding(1, 2, raisedH)], [label(20, null, true, 'derate')], rules);
    expect(outcome(12)).toMatchObject({ hits: 1, falseAlarms: 0, leadMs: 8 * hourMs });
    expect(outcome(9)).toMatchObject({ hits: 0, misses: 1, falseAlarms: 1 });
    expect(outcome(20.5)).toMatchObject({ hits: 0, falseAlarms: 1 });
  });

  it('never counts more than there is (any findings and labels)', () => {
    const spans = fc.array(fc.tuple(fc.nat(200), fc.nat(20)), { maxLength: 30 });
    fc.assert(
      fc.property(spans, spans, (found, real) => {
        const outcome = judged(
          found.map(([from, length]) => finding(from, from + length)),
          real.map(([from, length]) => label(from, from + length)),
        );
        expect(outcome.hits + outcome.misses).toBe(outcome.labels);
        expect(outcome.falseAlarms).toBeLessThanOrEqual(outcome.raised);
        expect(outcome.raised).toBe(found.length);
      }),
    );
  });
});

describe('figures', () => {
  it('are what they say, by hand', () => {
    const one = judged([finding(1, 2), finding(5, 6)], [label(1, 2), label(20, 21)]);
    const figures = outcomeFigures([one], { weights: usualWeights, analysts: usualAnalysts });
    // One miss (10), one false alarm (2) and two looks (0.1 each) in one month.
    expect(figures.costPerMachineMonth).toBeCloseTo(12.2, 9);
    expect(figures.falseAlarmsPerMachineMonth).toBeCloseTo(1, 9);
    // Two findings a machine-month, 100 machines: 200 / 30.4375 a day, three minutes each.
    expect(figures.findingsPerAnalystDay).toBeCloseTo(6.571, 3);
    expect(figures.hoursPerAnalystDay).toBeCloseTo(0.3285, 3);
    expect(figures).toMatchObject({ hitRatio: 0.5, rightRatio: 0.5, leadH: -1 });
  });

  it('have intervals that hold the value, and narrow with more machines', () => {
    const fleet = (count: number): MachineOutcome[] =>
      Array.from({ length: count }, (_, i) => ({ ...judged([finding(1, 2)], [label(1, 2)]), falseAlarms: i % 3 }));
    const options = { weights: usualWeights, analysts: usualAnalysts, rounds: 500 };
    const width = (count: number) => {
      const interval = figureInterval(fleet(count), 'costPerMachineMonth', { ...options, random: createRandom(1) });
      if (interval === null) throw new Error('no interval');
      expect(interval.low).toBeLessThanOrEqual(interval.value);
      expect(interval.high).toBeGreaterThanOrEqual(interval.value);
      return interval.high - interval.low;
    };
    expect(width(48)).toBeLessThan(width(6));
  });

  it('have no interval where there is one machine or no value', () => {
    const random = createRandom(1);
    expect(bootstrapInterval({ units: 1, figure: () => 1, random })).toBeNull();
    expect(bootstrapInterval({ units: 5, figure: () => Number.NaN, random })).toBeNull();
  });
});

describe('the split', () => {
  it('parts any fleet, keeps the classes in both parts and is the same for the same seed', () => {
    fc.assert(
      fc.property(fc.integer({ min: 2, max: 60 }), fc.nat(1000), (count, seed) => {
        const machines = Array.from({ length: count }, (_, i) => ({ machineId: `m${i}`, machineClass: `c${i % 3}` }));
        const split = splitMachines(machines, createRandom(seed));
        expect([...split.tuning, ...split.heldOut].sort()).toEqual(machines.map(({ machineId }) => machineId).sort());
        expect(split.tuning.length).toBeGreaterThan(0);
        expect(split.heldOut.length).toBeGreaterThan(0);
        expect(splitMachines([...machines].reverse(), createRandom(seed))).toEqual(split);
        if (count < 18) return;
        for (const part of [split.tuning, split.heldOut]) {
          expect(new Set(part.map((id) => Number(id.slice(1)) % 3)).size).toBe(3);
        }
      }),
    );
  });
});
