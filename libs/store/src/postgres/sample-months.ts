/** The months that have a table for their samples, made when their first sample comes. */

import type { MachineChange } from '../store.js';
import type { Database } from './database.js';

export interface SampleMonths {
  /** Makes the months of the packed changes' samples that are not known to be there. Runs in transactions of its own. */
  ensure(changes: readonly MachineChange[]): Promise<void>;
  /** Makes the month of a time and the one after it. */
  ensureAround(timeMs: number): Promise<void>;
  /** Forgets what is there: another process may have dropped months. */
  forget(): void;
}

/** Remembers which months are there, so that a commit asks for none of them twice. */
export function createSampleMonths(database: Database): SampleMonths {
  const known = new Set<number>();

  async function make(months: Iterable<number>): Promise<void> {
    for (const monthMs of months) {
      if (known.has(monthMs)) continue;
      await database.query({ text: 'SELECT make_sample_month($1)', values: [monthMs] });
      known.add(monthMs);
    }
  }

  return {
    async ensure(changes) {
      const months = new Set<number>();
      for (const { packed } of changes) for (const { hourMs } of packed?.chunks ?? []) months.add(monthOf(hourMs));
      await make(months);
    },
    ensureAround: (timeMs) => make([monthOf(timeMs), monthAfter(timeMs)]),
    forget: () => known.clear(),
  };
}

/** Start of the month that a time lies in, UTC. */
function monthOf(timeMs: number): number {
  const date = new Date(timeMs);
  return Date.UTC(date.getUTCFullYear(), date.getUTCMonth());
}

function monthAfter(timeMs: number): number {
  const date = new Date(timeMs);
  return Date.UTC(date.getUTCFullYear(), date.getUTCMonth() + 1);
}
