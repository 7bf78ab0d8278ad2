import {
  concernWords,
  countConcerns,
  countWords,
  findingLengthS,
  findingMarks,
  findingSentence,
  kindName,
  matchesSearch,
  severityRank,
} from '@warmbrick/console';
import type { FindingDocument } from '@warmbrick/contracts';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { demoItem } from '../browser/demo-answers.js';
import { demoMachines } from '../browser/demo-machines.js';

const nowMs = Date.parse('2026-03-17T13:20:00Z');
const plain = (text: string) => text.replace(/\u00a0/g, ' ');

function finding(change: Partial<FindingDocument>): FindingDocument {
  return {
    id: 'm~idle-streak~1',
    machineId: 'm',
    kind: 'idle-streak',
    startedAt: '2026-03-17T11:00:00.000Z',
    endedAt: '2026-03-17T12:12:00.000Z',
    severity: 'warning',
    values: {},
    evidence: {},
    thresholdSet: 'built-in-1',
    ...change,
  };
}

describe('findings in words', () => {
  it('counts what matters first and leaves engine runs out', () => {
    const counts = { 'engine-run': 4, 'idle-streak': 2, 'hot-shutdown': 1, 'data-gap': 0 };
    expect(plain(countWords(counts))).toBe('1 hot stop, 2 long idles');
    expect(countWords({ 'engine-run': 4 })).toBe('nothing found');
    expect(plain(countWords({ 'some-new-kind': 2 }))).toBe('2 some new kind');
  });

  it('says what happened and for how long', () => {
    expect(plain(findingSentence(finding({}), nowMs))).toBe('Idled 1 h 12 min');
    expect(plain(findingSentence(finding({ endedAt: null }), nowMs))).toBe('Idling, 2 h 20 min so far');
    expect(findingSentence(finding({ kind: 'hot-shutdown' }), nowMs)).toBe('Stopped hot');
    const hotStop = finding({ kind: 'hot-shutdown', values: { cooldownS: 6 } });
    expect(plain(findingSentence(hotStop, nowMs))).toBe('Stopped hot after 6 s of cool-down');
    const earlyLoad = finding({ kind: 'early-load', values: { warmupS: 36 } });
    expect(plain(findingSentence(earlyLoad, nowMs))).toBe('Loaded too soon after a cold start, 36 s after it');
    expect(findingLengthS(finding({ endedAt: '2026-03-17T10:00:00.000Z' }), nowMs)).toBe(0);
    expect(kindName('cold-dwell', 3)).toBe('cold stretches');
    expect((['info', 'notice', 'warning', 'severe'] as const).map(severityRank)).toEqual([0, 1, 2, 3]);
  });
});

describe('marks on the time axis', () => {
  const range = { fromMs: Date.parse('2026-03-17T10:00:00Z'), toMs: Date.parse('2026-03-17T14:00:00Z') };
  it('lie where the finding lies, cut to the range', () => {
    const [mark] = findingMarks([finding({})], range, nowMs);
    expect(mark?.startRatio).toBeCloseTo(0.25, 9);
    expect(mark?.lengthRatio).toBeCloseTo(0.3, 9);
    const [cut] = findingMarks([finding({ startedAt: '2026-03-17T08:00:00.000Z' })], range, nowMs);
    expect(cut?.startRatio).toBe(0);
    expect(cut?.lengthRatio).toBeCloseTo(132 / 240, 9);
    expect(findingMarks([finding({ kind: 'engine-run' })], range, nowMs)).toEqual([]);
    expect(
      findingMarks(
        [finding({ endedAt: '2026-03-17T09:00:00.000Z', startedAt: '2026-03-17T08:00:00.000Z' })],
        range,
        nowMs,
      ),
    ).toEqual([]);
  });

  it('never overlap in the first lanes and stay inside the range', () => {
    const minute = fc.integer({ min: -100, max: 340 });
    fc.assert(
      fc.property(fc.array(fc.tuple(minute, fc.integer({ min: 0, max: 120 })), { maxLength: 12 }), (spans) => {
        const findings = spans.map(([start, length], index) =>
          finding({
            id: String(index),
            startedAt: new Date(range.fromMs + start * 60_000).toISOString(),
            endedAt: new Date(range.fromMs + (start + length) * 60_000).toISOString(),
          }),
        );
        const marks = findingMarks(findings, range, nowMs);
        for (const mark of marks) {
          expect(mark.startRatio).toBeGreaterThanOrEqual(0);
          expect(mark.startRatio + mark.lengthRatio).toBeLessThanOrEqual(1 + 1e-9);
          for (const other of marks) {
            if (other === mark || other.lane !== mark.lane || mark.lane === 2) continue;
            const isApart =
              other.startRatio + other.lengthRatio <= mark.startRatio + 1e-9 ||
              mark.startRatio + mark.lengthRatio <= other.startRatio + 1e-9;
            expect(isApart).toBe(true);
          }
        }
      }),
    );
  });
});

describe('the line over the fleet', () => {
  const [machine] = demoMachines(1, nowMs).map(demoItem);
  if (machine === undefined) throw new Error('no machine');
  it('counts concerns, one machine in several', () => {
    const grave = {
      ...machine,
      lastSampleAt: new Date(nowMs - 600_000).toISOString(),
      findingCounts: { 'idle-streak': 2, 'hot-shutdown': 1 },
      score: { value: 60, parts: {}, confidence: 1, missing: [], advice: '', caution: null },
    };
    const calm = { ...machine, lastSampleAt: new Date(nowMs).toISOString(), findingCounts: {}, score: null };
    expect(countConcerns([grave, calm], nowMs)).toEqual({ 'at-risk': 1, 'long-idle': 1, 'hot-stop': 1, silent: 1 });
    expect(concernWords('long-idle', 3)).toBe('3 idled too long');
  });

  it('finds by any words in any case', () => {
    expect(matchesSearch(machine, 'skarnfell LOADER')).toBe(true);
    expect(matchesSearch(machine, 'skarnfell hauler')).toBe(false);
    expect(matchesSearch(machine, '')).toBe(true);
  });
});
