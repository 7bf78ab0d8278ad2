import { builtInThresholds, type Finding } from '@warmbrick/analysis';
import { defaultProfile } from '@warmbrick/signals';
import { idle, off, recordingOf, work } from '@warmbrick/testkit';
import { compareTrials, createTrial, type MachineTrial, sumChanges, type TrialFinding } from '@warmbrick/tuning';
import { describe, expect, it } from 'vitest';

const set = (values: Partial<typeof builtInThresholds.values>) => ({
  version: 'moved',
  values: { ...builtInThresholds.values, ...values },
});

function trials(values: Partial<typeof builtInThresholds.values>): [MachineTrial, MachineTrial] {
  const block = recordingOf([off(60), idle(900), work(1800), idle(2700), work(600), idle(4000), work(900), off(600)]);
  const trial = createTrial({ machineId: block.machineId, profile: defaultProfile }, [builtInThresholds, set(values)]);
  trial.push(block);
  return trial.results() as [MachineTrial, MachineTrial];
}

function finding(kind: Finding['kind'], startedMs: number, endedMs: number, values = {}): TrialFinding {
  const id = `m~${kind}~${startedMs}`;
  return {
    finding: {
      id,
      machineId: 'm',
      kind,
      startedMs,
      endedMs,
      severity: 'warning',
      values,
      evidence: {},
      thresholdSet: 'a',
      emittedMs: endedMs,
    },
    raisedMs: endedMs,
  };
}

const result = (findings: TrialFinding[]): MachineTrial => ({
  machineId: 'm',
  machineClass: 'loader',
  profile: defaultProfile,
  thresholdSet: 'a',
  samples: 1,
  summary: null,
  findings,
});

describe('the comparison of two trials', () => {
  it('is empty for equal sets', () => {
    const comparison = compareTrials(...trials({}));
    expect(comparison.before.findings.length).toBeGreaterThan(3);
    expect(comparison).toMatchObject({ isEqual: true, changes: [], residencyDiffers: {} });
  });

  it('names exactly what another idle limit changes', () => {
    const { changes } = compareTrials(...trials({ idleLimitS: 2400 }));
    // The idle of 2700 s now passes; the one of 4000 s was found before, and is under twice either limit.
    expect(changes.map(({ type }) => type)).toEqual(['appears']);
    expect(changes[0]).toMatchObject({ after: { finding: { kind: 'idle-streak', values: { durationS: 2700 } } } });
  });

  it('says when only the severity changes', () => {
    const { changes } = compareTrials(...trials({ idleLimitS: 2000 }));
    expect(changes.map(({ type }) => type)).toEqual(['appears', 'changes']);
    expect(changes[1]).toMatchObject({ fields: ['severity'], after: { finding: { severity: 'severe' } } });
  });

  it('pairs what vanishes with what appears where they overlap, the nearest first', () => {
    const before = result([finding('idle-streak', 1000, 5000), finding('cold-dwell', 1000, 9000)]);
    const after = result([finding('idle-streak', 1500, 5000), finding('idle-streak', 4000, 6000)]);
    expect(compareTrials(before, after).changes.map(({ type }) => type)).toEqual(['vanishes', 'moves', 'appears']);
  });

  it('takes a figure that only repeats the limit for no change', () => {
    const before = result([finding('idle-streak', 1, 2, { durationS: 9, limitS: 3 })]);
    const after = result([finding('idle-streak', 1, 2, { durationS: 9, limitS: 4 })]);
    expect(compareTrials(before, after).isEqual).toBe(true);
  });

  it('is counted by kind and class', () => {
    const sums = sumChanges([compareTrials(...trials({ idleLimitS: 2400 }))]);
    expect(sums).toMatchObject({ isEqual: false, machines: 1, changedMachines: 1 });
    expect(sums.byKind['idle-streak']).toEqual({ before: 1, after: 2, appears: 1, vanishes: 0, moves: 0, changes: 0 });
    expect(sums.byClass.machine).toEqual(sums.total);
  });
});
