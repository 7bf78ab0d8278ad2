/** Machines as the API writes them: what the store knows, with the last day of the machine's own time. */

import type { ResidencyRow } from '@warmbrick/analysis';
import {
  type MachineDetail,
  type MachineItem,
  toInstant,
  toLoadDocument,
  toOutlookDocuments,
  toScoreDocument,
} from '@warmbrick/contracts';
import { profileWindow } from '@warmbrick/signals';
import type { StoredMachine } from '@warmbrick/store';
import { dayStrip, stripRange } from '../series/day-strip.js';
import { rowsByStart, sumRows } from '../series/residency-sum.js';

/** What the fleet page needs beside the machine itself, for the range of `stripRange`. */
export interface MachineDay {
  readonly rows: readonly ResidencyRow[];
  readonly findingCounts: Readonly<Record<string, number>>;
}

/** One line of the fleet page. */
export function machineItem(machine: StoredMachine, day: MachineDay): MachineItem {
  const { profile, summary } = machine;
  const range = stripRange(machine.lastSampleMs);
  const rows = rowsByStart(day.rows);
  return {
    machineId: machine.machineId,
    name: profile.name ?? machine.machineId,
    machineClass: profile.machineClass,
    site: profile.site ?? null,
    timeZone: profile.timeZone,
    lastSampleAt: toInstant(machine.lastSampleMs),
    mode: summary.mode,
    score: toScoreDocument(summary.score),
    day: dayStrip(rows, range),
    residency: sumRows(rows, range.fromMs, range.toMs),
    findingCounts: { ...day.findingCounts },
  };
}

/** The machine page's head: the line of the fleet page and everything observed so far. */
export function machineDetail(machine: StoredMachine, day: MachineDay): MachineDetail {
  const { profile, summary } = machine;
  const { fromMs, toMs, coverageRatio } = summary.observed;
  return {
    ...machineItem(machine, day),
    observed: { from: toInstant(fromMs), to: toInstant(toMs), coverageRatio },
    profile,
    window: { ...profileWindow(profile) },
    histogramS: [...summary.histogramS],
    exhaustSourceS: { ...summary.exhaustSourceS },
    longestIdleS: summary.longestIdleS,
    load: toLoadDocument(summary.load),
    ...toOutlookDocuments(summary),
    thresholdSet: machine.thresholdSet,
  };
}
