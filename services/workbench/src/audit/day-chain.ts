/** A hash a day, each over the one before: two answers are equal up to a day if their hashes of that day are. */

import { createHash } from 'node:crypto';
import { canonical, type Results, type Span } from './results.js';

const dayMs = 86_400_000;

export interface DayLink {
  /** The day in UTC, such as 2026-03-02. */
  readonly day: string;
  /** SHA-256 in hexadecimal over the day before's, the rows and the findings that start on this day. */
  readonly hash: string;
}

/** The chain over all days of the span on which something started, in order. */
export function dayChain(results: Results, span: Span): DayLink[] {
  const byDay = new Map<number, string[]>();
  const add = (startedMs: number, line: string): void => {
    if (startedMs < span.fromMs || startedMs >= span.toMs) return;
    const day = Math.floor(startedMs / dayMs);
    const lines = byDay.get(day);
    if (lines === undefined) byDay.set(day, [line]);
    else lines.push(line);
  };
  for (const row of inOrder(results.rows)) add(row.startedMs, canonical(row));
  for (const finding of inOrder(results.findings)) add(finding.startedMs, canonical(finding));
  let hash = '';
  return [...byDay]
    .sort(([a], [b]) => a - b)
    .map(([day, lines]) => {
      const name = new Date(day * dayMs).toISOString().slice(0, 10);
      hash = createHash('sha256')
        .update([hash, name, ...lines].join('\n'))
        .digest('hex');
      return { day: name, hash };
    });
}

/** The first day on which two chains part; null when they are the same. */
export function firstDifferentDay(a: readonly DayLink[], b: readonly DayLink[]): string | null {
  for (let i = 0; i < Math.max(a.length, b.length); i++) {
    const [one, other] = [a[i], b[i]];
    if (one?.hash === other?.hash) continue;
    const days = [one?.day, other?.day].filter((day) => day !== undefined);
    return days.sort()[0] ?? null;
  }
  return null;
}

function inOrder<K extends string | number, V>(items: ReadonlyMap<K, V>): V[] {
  return [...items].sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0)).map(([, value]) => value);
}
