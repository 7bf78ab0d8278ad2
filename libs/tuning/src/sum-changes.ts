/** Counts of a comparison: by kind of finding, by class of machine, in all. */

import { type ChangeType, kindOfChange, type MachineComparison } from './compare-trials.js';

export interface ChangeCounts extends Record<ChangeType, number> {
  /** Findings under the first set and under the second. */
  before: number;
  after: number;
}

export interface ComparisonSums {
  readonly isEqual: boolean;
  readonly machines: number;
  readonly changedMachines: number;
  readonly total: ChangeCounts;
  /** By name, in order of the alphabet; kinds without any finding are left out. */
  readonly byKind: Readonly<Record<string, ChangeCounts>>;
  readonly byClass: Readonly<Record<string, ChangeCounts>>;
}

/** Sums what changes over all machines. */
export function sumChanges(machines: readonly MachineComparison[]): ComparisonSums {
  const total = noChanges();
  const byKind = new Map<string, ChangeCounts>();
  const byClass = new Map<string, ChangeCounts>();
  for (const machine of machines) {
    const ofClass = countsOf(byClass, machine.machineClass);
    for (const side of ['before', 'after'] as const) {
      for (const { finding } of machine[side].findings) {
        for (const counts of [total, countsOf(byKind, finding.kind), ofClass]) counts[side]++;
      }
    }
    for (const change of machine.changes) {
      for (const counts of [total, countsOf(byKind, kindOfChange(change)), ofClass]) counts[change.type]++;
    }
  }
  return {
    isEqual: machines.every((machine) => machine.isEqual),
    machines: machines.length,
    changedMachines: machines.filter((machine) => !machine.isEqual).length,
    total,
    byKind: sorted(byKind),
    byClass: sorted(byClass),
  };
}

function noChanges(): ChangeCounts {
  return { before: 0, after: 0, appears: 0, vanishes: 0, moves: 0, changes: 0 };
}

function countsOf(counts: Map<string, ChangeCounts>, name: string): ChangeCounts {
  const known = counts.get(name) ?? noChanges();
  counts.set(name, known);
  return known;
}

function sorted(counts: ReadonlyMap<string, ChangeCounts>): Record<string, ChangeCounts> {
  return Object.fromEntries([...counts].sort(([a], [b]) => (a < b ? -1 : 1)));
}
