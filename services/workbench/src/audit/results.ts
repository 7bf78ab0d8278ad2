/** What the analysis says about a machine, in a form in which two answers can be compared. */

import type { Finding, MachineSummary, ResidencyRow } from '@warmbrick/analysis';

export interface Results {
  readonly summary: MachineSummary | null;
  /** By start. */
  readonly rows: ReadonlyMap<number, ResidencyRow>;
  /** By id. */
  readonly findings: ReadonlyMap<string, Finding>;
}

export interface Span {
  readonly fromMs: number;
  readonly toMs: number;
}

/**
 * A value as JSON with the names of every object in order, so that equal values are equal texts.
 *
 * When a finding was last made hangs on how the samples were cut into batches, and nothing it says does: `emittedMs` is
 * left out.
 */
export function canonical(value: unknown): string {
  return JSON.stringify(value, (name, it: unknown) => {
    if (name === 'emittedMs') return undefined;
    if (typeof it !== 'object' || it === null || Array.isArray(it)) return it;
    return Object.fromEntries(Object.entries(it).sort(([a], [b]) => (a < b ? -1 : 1)));
  });
}
