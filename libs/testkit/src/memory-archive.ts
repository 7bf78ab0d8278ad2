/** The committed past of one machine in memory: what a timeline asks of a store, without one. */

import type { Finding, ResidencyRow, TimelineChange, TimelinePorts } from '@warmbrick/analysis';
import { mergeBlocks, type SampleBlock } from '@warmbrick/signals';

export interface MemoryArchive {
  readonly ports: TimelinePorts;
  commit(change: TimelineChange): void;
  findings(): Finding[];
  rows(): ResidencyRow[];
}

/** Creates an empty archive. */
export function createMemoryArchive(machineId: string): MemoryArchive {
  let samples: SampleBlock = { machineId, timeMs: new Float64Array(0), channels: {} };
  let snapshots: { atMs: number; snapshot: string }[] = [];
  const findings = new Map<string, Finding>();
  const rows = new Map<number, ResidencyRow>();
  return {
    ports: {
      readArchive: async (fromMs, toMs) => [pick(samples, fromMs, toMs)],
      snapshotBefore: async (timeMs) => {
        const found = snapshots.filter((kept) => kept.atMs < timeMs).sort((a, b) => b.atMs - a.atMs)[0];
        return found === undefined ? null : { atMs: found.atMs, snapshot: JSON.parse(found.snapshot) };
      },
      findingIdsSince: async (atMs) => [...findings.values()].filter((f) => f.emittedMs > atMs).map((f) => f.id),
    },
    commit(change) {
      samples = mergeBlocks(machineId, [samples, ...change.samples]).block;
      const { rewoundToMs } = change;
      if (rewoundToMs !== null) {
        snapshots = snapshots.filter((kept) => kept.atMs <= rewoundToMs);
        for (const startedMs of [...rows.keys()]) if (startedMs > rewoundToMs) rows.delete(startedMs);
      }
      for (const id of change.withdrawnFindingIds) findings.delete(id);
      for (const finding of change.findings) findings.set(finding.id, finding);
      for (const row of change.rows) rows.set(row.startedMs, row);
      for (const kept of change.keptSnapshots) {
        snapshots.push({ atMs: kept.atMs, snapshot: JSON.stringify(kept.snapshot) });
      }
    },
    findings: () => [...findings.values()].sort((a, b) => a.id.localeCompare(b.id)),
    rows: () => [...rows.values()].sort((a, b) => a.startedMs - b.startedMs),
  };
}

function pick(block: SampleBlock, fromMs: number, toMs: number): SampleBlock {
  const rows = [...block.timeMs.keys()].filter((i) => {
    const at = block.timeMs[i] as number;
    return at > fromMs && at <= toMs;
  });
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
