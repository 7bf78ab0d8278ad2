/** The earliest thing that two answers about a machine disagree on, in words. */

import { canonical, type Results, type Span } from './results.js';

export interface Difference {
  readonly kind: 'row' | 'finding' | 'summary' | 'thresholds' | 'archive';
  /** Where: a row's start, a finding's id, a field of the summary. */
  readonly where: string;
  /** What is stored and what the re-run says; null where one of them has nothing. */
  readonly stored: unknown;
  readonly again: unknown;
}

/** The earliest row or finding of the span that differs; after those, the summary. null when nothing does. */
export function firstDifference(stored: Results, again: Results, span: Span): Difference | null {
  const found = [
    ...differing(stored.rows, again.rows, (row) => row.startedMs).map((it) => ({
      ...it,
      kind: 'row' as const,
      where: new Date(it.startedMs).toISOString(),
    })),
    ...differing(stored.findings, again.findings, (finding) => finding.startedMs).map((it) => ({
      ...it,
      kind: 'finding' as const,
      where: String(it.key),
    })),
  ]
    .filter((it) => it.startedMs >= span.fromMs && it.startedMs < span.toMs)
    .sort((a, b) => a.startedMs - b.startedMs);
  const [first] = found;
  if (first !== undefined) return fieldOf({ ...first, kind: first.kind, where: first.where });
  return summaryDifference(stored, again);
}

/** Whether the summaries are equal, as one difference. */
function summaryDifference(stored: Results, again: Results): Difference | null {
  if (canonical(stored.summary) === canonical(again.summary)) return null;
  return fieldOf({ kind: 'summary', where: '', stored: stored.summary, again: again.summary });
}

function differing<K, V>(stored: ReadonlyMap<K, V>, again: ReadonlyMap<K, V>, startOf: (value: V) => number) {
  const keys = new Set([...stored.keys(), ...again.keys()]);
  return [...keys].flatMap((key) => {
    const [one, other] = [stored.get(key), again.get(key)];
    if (canonical(one ?? null) === canonical(other ?? null)) return [];
    return [{ key, startedMs: startOf((one ?? other) as V), stored: one ?? null, again: other ?? null }];
  });
}

/** Names the first field that differs, as deep as both have one. */
function fieldOf({ kind, where, stored, again }: Difference): Difference {
  if (!isRecord(stored) || !isRecord(again)) return { kind, where, stored, again };
  const names = [...new Set([...Object.keys(stored), ...Object.keys(again)])].sort();
  const name = names.find((it) => canonical([stored[it] ?? null]) !== canonical([again[it] ?? null]));
  if (name === undefined || name === 'emittedMs') return { kind, where, stored, again };
  const deeper = where === '' ? name : `${where} ${name}`;
  return fieldOf({ kind, where: deeper, stored: stored[name] ?? null, again: again[name] ?? null });
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
