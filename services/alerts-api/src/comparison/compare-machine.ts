/** One machine's figures of the last week beside its class, and the days from which they changed. */

import {
  type ClassStanding,
  compareWithClass,
  findChange,
  type MachineFigure,
  type ResidencyRow,
  type WorkFigureName,
  workFigureNames,
  workFiguresOf,
  workGroupOf,
} from '@warmbrick/analysis';
import { type Comparison, toInstant } from '@warmbrick/contracts';
import type { Store, StoredMachine } from '@warmbrick/store';
import { residencyBucketBounds } from '../series/residency-buckets.js';
import { quarterEnd, rowsByStart, sumRows } from '../series/residency-sum.js';
import { listMostMachines } from './list-most-machines.js';

const dayMs = 86_400_000;
/** What is compared with the class, and what is searched for changes, days. Source: engineering judgement. */
const comparedDays = 7;
const followedDays = 56;
/** Machines whose rows are asked for at once. */
const rowsAtOnce = 50;

type Figures = Readonly<Record<WorkFigureName, number>>;

/** The comparison; each machine by its own last week. */
export async function compareMachine(store: Store, machine: StoredMachine): Promise<Comparison> {
  const { machineClass } = machine.profile;
  const { machines, hasMore } = await listMostMachines(
    store,
    ({ machineId, profile }) => profile.machineClass === machineClass && machineId !== machine.machineId,
  );
  const all = [machine, ...machines];
  const weeks = await weeksOf(store, all);
  const own = weeks.get(machine.machineId) as Week;
  const changes = await changesOf(store, machine);
  const standings = new Map<WorkFigureName, ClassStanding | undefined>(
    workFigureNames.map((name) => {
      const figures = [...weeks].map(([machineId, { group, figures: values }]): MachineFigure => {
        return { machineId, group, value: values[name] };
      });
      return [name, compareWithClass(figures).find(({ machineId }) => machineId === machine.machineId)] as const;
    }),
  );
  return {
    machineId: machine.machineId,
    group: own.group,
    from: toInstant(own.fromMs),
    to: toInstant(own.toMs),
    peers: machines.length,
    hasMorePeers: hasMore,
    figures: workFigureNames.map((name) => ({
      ...standingOf(name, standings.get(name)),
      change: changes.get(name) ?? null,
    })),
  };
}

function standingOf(name: WorkFigureName, standing: ClassStanding | undefined) {
  if (standing === undefined) {
    const nothing = { groupMedian: null, lowerQuartile: null, upperQuartile: null, percentile: null };
    return { name, value: null, groupSize: 0, ...nothing, standing: 'unknown' as const };
  }
  const { value, groupSize, groupMedian, lowerQuartile, upperQuartile, percentile, standing: word } = standing;
  return { name, value, groupSize, groupMedian, lowerQuartile, upperQuartile, percentile, standing: word };
}

interface Week {
  readonly group: string;
  readonly figures: Figures;
  readonly fromMs: number;
  readonly toMs: number;
}

async function weeksOf(store: Store, machines: readonly StoredMachine[]): Promise<Map<string, Week>> {
  const ranges = machines.map(({ machineId, lastSampleMs }) => {
    const toMs = quarterEnd(lastSampleMs);
    return { machineId, fromMs: toMs - comparedDays * dayMs, toMs };
  });
  const counts = await store.countFindings(ranges);
  const weeks = new Map<string, Week>();
  for (let first = 0; first < machines.length; first += rowsAtOnce) {
    const some = ranges.slice(first, first + rowsAtOnce);
    const ids = some.map(({ machineId }) => machineId);
    const [earliest, latest] = [Math.min(...some.map((one) => one.fromMs)), Math.max(...some.map((one) => one.toMs))];
    const rows = await store.listRows(ids, earliest, latest);
    some.forEach(({ machineId, fromMs, toMs }, k) => {
      const { profile } = machines[first + k] as StoredMachine;
      const spent = sumRows(rowsByStart(rows.get(machineId) ?? []), fromMs, toMs);
      const found = counts.get(machineId) ?? {};
      weeks.set(machineId, {
        group: workGroupOf(profile.machineClass, spent),
        figures: workFiguresOf(spent, eventsOf(found), (toMs - fromMs) / 1000),
        fromMs,
        toMs,
      });
    });
  }
  return weeks;
}

function eventsOf(found: Readonly<Record<string, number>>) {
  return {
    runs: found['engine-run'] ?? 0,
    longIdles: found['idle-streak'] ?? 0,
    hotShutdowns: found['hot-shutdown'] ?? 0,
  };
}

/** Days of change of the figures that rows alone make; counts of events are too few a day. */
async function changesOf(
  store: Store,
  { machineId, profile, summary, lastSampleMs }: StoredMachine,
): Promise<Map<WorkFigureName, Comparison['figures'][number]['change']>> {
  const toMs = quarterEnd(lastSampleMs);
  const fromMs = Math.max(toMs - followedDays * dayMs, summary.observed.fromMs);
  const rows: readonly ResidencyRow[] = (await store.listRows([machineId], fromMs, toMs)).get(machineId) ?? [];
  const byStart = rowsByStart(rows);
  const days = residencyBucketBounds({ bucket: 'day', profile, fromMs, toMs }).map(({ startMs, endMs }) => ({
    startMs,
    figures: workFiguresOf(sumRows(byStart, startMs, endMs), noEvents, (endMs - startMs) / 1000),
  }));
  return new Map(
    workFigureNames.map((name) => {
      const known = days.filter(({ figures }) => Number.isFinite(figures[name]));
      const change = findChange(known.map(({ figures }) => figures[name]));
      if (change === null) return [name, null] as const;
      const { startMs } = known[change.index] as (typeof known)[number];
      return [name, { since: toInstant(startMs), meanBefore: change.meanBefore, meanAfter: change.meanAfter }] as const;
    }),
  );
}

const noEvents = { runs: 0, longIdles: 0, hotShutdowns: 0 };
