/** A sample that comes days late: the re-run reads the past piece by piece, and ends as if the sample had come in time. */

import {
  builtInThresholds,
  createTimeline,
  type KeptSnapshot,
  type Timeline,
  type TimelineChange,
} from '@warmbrick/analysis';
import { defaultProfile, mergeBlocks, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { describe, expect, it } from 'vitest';

const startMs = Date.UTC(2026, 2, 2);
const dayMs = 86_400_000;
const days = 12;
/** A sample every half minute: work and idle in turn, off at night. */
const count = (days * dayMs) / 30_000;
const course = (value: (hour: number) => number) =>
  Float32Array.from({ length: count }, (_, i) => value((i / 120) % 24));
const whole: SampleBlock = {
  machineId: 'm',
  timeMs: Float64Array.from({ length: count }, (_, i) => startMs + i * 30_000),
  channels: {
    engineSpeedRpm: course((hour) => (hour < 6 || hour > 18 ? 0 : hour % 3 < 1.5 ? 900 : 1600)),
    engineLoadPct: course((hour) => (hour % 3 < 1.5 ? 5 : 60)),
    exhaustTempC: course((hour) => (hour % 3 < 1.5 ? 180 : 390)),
  },
};

/** A machine whose changes go into an archive as a store would keep them. */
function machine() {
  let archive: SampleBlock[] = [];
  let kept: KeptSnapshot[] = [];
  const findings = new Map<string, { emittedMs: number }>();
  const reads: number[] = [];
  const timeline: Timeline = createTimeline({
    machineId: 'm',
    profile: defaultProfile,
    thresholds: builtInThresholds,
    ports: {
      readArchive: async (fromMs, toMs) => {
        reads.push(toMs - fromMs);
        return archive.map((block) => {
          const from = block.timeMs.findIndex((time) => time > fromMs);
          const to = block.timeMs.findIndex((time) => time > toMs);
          return from < 0 ? sliceBlock(block, 0, 0) : sliceBlock(block, from, to < 0 ? block.timeMs.length : to);
        });
      },
      snapshotBefore: async (timeMs) => kept.findLast(({ atMs }) => atMs < timeMs) ?? null,
      findingIdsSince: async (atMs) => [...findings].filter(([, it]) => it.emittedMs > atMs).map(([id]) => id),
    },
  });
  const accept = async (block: SampleBlock): Promise<TimelineChange> => {
    const change = await timeline.accept(block);
    archive = [mergeBlocks('m', [...archive, ...change.samples]).block];
    const { rewoundToMs } = change;
    if (rewoundToMs !== null) kept = kept.filter(({ atMs }) => atMs <= rewoundToMs);
    kept = [...kept, ...change.keptSnapshots];
    for (const id of change.withdrawnFindingIds) findings.delete(id);
    for (const finding of change.findings) findings.set(finding.id, finding);
    return change;
  };
  return { accept, timeline, findings, reads };
}

describe('a sample that comes twelve days late', () => {
  it('ends as in order, from pieces of six hours, and keeps few snapshots', async () => {
    const inOrder = machine();
    for (let from = 0; from < count; from += 2880) await inOrder.accept(sliceBlock(whole, from, from + 2880));

    const late = machine();
    const missing = 700;
    await late.accept(sliceBlock(whole, 0, missing));
    for (let from = missing + 1; from < count; from += 2880) {
      await late.accept(sliceBlock(whole, from, Math.min(count, from + 2880)));
    }
    expect(late.reads).toEqual([]);
    const change = await late.accept(sliceBlock(whole, missing, missing + 1));
    expect(change.rewoundToMs).not.toBeNull();
    expect(late.reads.length).toBeGreaterThan(days * 3);
    expect(Math.max(...late.reads)).toBeLessThanOrEqual(6 * 3_600_000);
    // One a day, and every half hour of the last.
    expect(change.keptSnapshots.length).toBeLessThan(days + 50);
    expect(change.keptSnapshots.length).toBeGreaterThan(days);
    expect(inOrder.findings.size).toBeGreaterThan(10);
    expect([...late.findings.keys()].sort()).toEqual([...inOrder.findings.keys()].sort());
    expect(late.timeline.summary()).toEqual(inOrder.timeline.summary());
    expect(late.timeline.snapshot()).toEqual(inOrder.timeline.snapshot());
  });
});
