import { type Finding, type FindingKind, groupOf, traceBatches } from '@warmbrick/analysis';
import { describe, expect, it } from 'vitest';

const dayMs = 86_400_000;
const firstMs = Date.UTC(2026, 2, 2);
const site = () => 'Skarnfell quarry';
const batches = [
  { site: 'Skarnfell quarry', fromMs: firstMs - 30 * dayMs, batch: 'february' },
  { site: 'Skarnfell quarry', fromMs: firstMs, batch: 'march' },
];

function finding(machineId: string, kind: FindingKind, day: number): Finding {
  const startedMs = firstMs + day * dayMs;
  return {
    id: `${machineId}~${kind}~${startedMs}`,
    machineId,
    kind,
    startedMs,
    endedMs: kind === 'def-fill' ? startedMs + 600_000 : null,
    severity: 'info',
    values: {},
    evidence: {},
    thresholdSet: 'built-in-1',
    emittedMs: startedMs,
  };
}
const fill = (machineId: string, day: number) => finding(machineId, 'def-fill', day);
const loss = (machineId: string, day: number) => finding(machineId, 'nox-conversion', day);
const healthy = ['h1', 'h2', 'h3', 'h4'].map((machineId) => fill(machineId, -10));

describe('tracing a DEF batch', () => {
  it('suspects the batch after which three of three lost conversion and none of the others did', () => {
    const filled = ['a', 'b', 'c'].flatMap((machineId) => [fill(machineId, 1), loss(machineId, 3)]);
    const traces = traceBatches([...healthy, ...filled], site, batches);
    expect(traces.map((trace) => [trace.batch, trace.isSuspect, trace.lostCount, trace.otherLostCount])).toEqual([
      ['february', false, 0, 0],
      ['march', true, 3, 0],
    ]);
    // Three marked of seven, all three drawn: one way in 35.
    expect(traces[1]?.chanceRatio).toBeCloseTo(1 / 35, 10);
  });

  it('does not suspect it for one machine, for losses before the fill or long after, nor when all lose alike', () => {
    const suspects = (...findings: Finding[]) =>
      traceBatches([...healthy, ...findings], site, batches)
        .filter((trace) => trace.isSuspect)
        .map((trace) => trace.batch);
    expect(suspects(fill('a', 1), loss('a', 3))).toEqual([]);
    expect(suspects(...['a', 'b', 'c'].flatMap((id) => [loss(id, 0), fill(id, 1)]))).toEqual([]);
    expect(suspects(...['a', 'b', 'c'].flatMap((id) => [fill(id, 1), loss(id, 12)]))).toEqual([]);
    const alike = ['h1', 'h2', 'h3', 'h4'].map((id) => loss(id, 3));
    expect(suspects(...['a', 'b', 'c'].flatMap((id) => [fill(id, 1), loss(id, 3)]), ...alike)).toEqual([]);
  });

  it('leaves out fills of which nobody knows the batch', () => {
    expect(traceBatches([fill('a', 1)], () => undefined, batches)).toEqual([]);
    expect(traceBatches([fill('a', -40)], site, batches)).toEqual([]);
  });
});

describe('groups', () => {
  it('are of one class and one kind of work', () => {
    expect(groupOf('haul truck', 30)).toBe('haul truck, light work');
    expect(groupOf('haul truck', 50)).toBe('haul truck, medium work');
    expect(groupOf('haul truck', 70)).toBe('haul truck, heavy work');
    expect(groupOf('haul truck', Number.NaN)).toBe('haul truck, unknown work');
  });
});
