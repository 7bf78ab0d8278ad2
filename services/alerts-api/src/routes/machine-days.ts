/** Reads the last day of many machines at once, each in its own time. */

import type { Store, StoredMachine } from '@warmbrick/store';
import type { MachineDay } from '../http/machine-document.js';
import { type StripRange, stripRange } from '../series/day-strip.js';

/** Machines whose days lie within this span share one query. Source: engineering judgement: reads at most twice the rows. */
const sharedSpanMs = 2 * 86_400_000;

/** The day of each machine, in the order of the machines. */
export async function loadMachineDays(store: Store, machines: readonly StoredMachine[]): Promise<MachineDay[]> {
  const ranges = machines.map((machine) => ({
    machineId: machine.machineId,
    ...stripRange(machine.lastSampleMs),
  }));
  const counting = store.countFindings(ranges);
  const rows = new Map<string, MachineDay['rows']>();
  const reading = clusterRanges(ranges).map(async (cluster) => {
    const ids = cluster.ranges.map(({ machineId }) => machineId);
    for (const [id, found] of await store.listRows(ids, cluster.fromMs, cluster.toMs)) rows.set(id, found);
  });
  const [counts] = await Promise.all([counting, ...reading]);
  return ranges.map(({ machineId, fromMs, toMs }) => ({
    rows: (rows.get(machineId) ?? []).filter((row) => row.startedMs >= fromMs && row.startedMs < toMs),
    findingCounts: counts.get(machineId) ?? {},
  }));
}

interface MachineRange extends StripRange {
  readonly machineId: string;
}

interface Cluster extends StripRange {
  readonly ranges: readonly MachineRange[];
}

/** Puts ranges together that lie close in time, so that a fleet seen at the same time is one query. */
function clusterRanges(ranges: readonly MachineRange[]): Cluster[] {
  const clusters: { fromMs: number; toMs: number; ranges: MachineRange[] }[] = [];
  for (const range of [...ranges].sort((a, b) => a.toMs - b.toMs)) {
    const last = clusters.at(-1);
    if (last !== undefined && range.toMs - last.fromMs <= sharedSpanMs) {
      last.toMs = range.toMs;
      last.ranges.push(range);
    } else {
      clusters.push({ fromMs: range.fromMs, toMs: range.toMs, ranges: [range] });
    }
  }
  return clusters;
}
