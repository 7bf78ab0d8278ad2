/** Figures of a machine's summary that rules may look at. */

import type { MachineSummary } from '@warmbrick/analysis';

export interface Figure {
  readonly name: string;
  readonly unit: string;
  /** What it is, as words say it in the middle of a sentence. */
  readonly words: string;
  /** null where the machine gives no such figure. */
  read(summary: MachineSummary): number | null;
}

const figure = (name: string, about: Pick<Figure, 'unit' | 'words' | 'read'>): Figure => ({ name, ...about });

const ofScore = (part: string, words: string): Figure =>
  figure(`score.${part}`, {
    unit: 'points',
    words,
    read: ({ score }) => (score?.parts as Record<string, number> | undefined)?.[part] ?? null,
  });

const share = (over: number, under: number): number | null => (under > 0 ? over / under : null);

/** Every figure, by name. */
export const figures: readonly Figure[] = [
  figure('score', { unit: 'points', words: 'soot-risk score', read: ({ score }) => score?.value ?? null }),
  figure('score.confidence', {
    unit: '',
    words: 'confidence of the score',
    read: ({ score }) => score?.confidence ?? null,
  }),
  ofScore('soot-load', 'points for soot load'),
  ofScore('deposits', 'points for deposits'),
  ofScore('cold-running', 'points for cold running'),
  ofScore('idling', 'points for idling'),
  ofScore('hot-stops', 'points for hot stops'),
  figure('sootRatio', {
    unit: '',
    words: 'soot load as a share of its limit',
    read: ({ load }) => load?.sootRatio ?? null,
  }),
  figure('depositRatio', {
    unit: '',
    words: 'urea deposits as a share of their limit',
    read: ({ load }) => load?.depositRatio ?? null,
  }),
  figure('hoursToLimit', {
    unit: 'h',
    words: 'running hours until the soot limit',
    read: ({ load }) => load?.hoursToLimit ?? null,
  }),
  figure('minutesUntilClean', {
    unit: 'min',
    words: 'minutes of work until clean',
    read: ({ load }) => load?.minutesUntilClean ?? null,
  }),
  figure('coverageRatio', {
    unit: '',
    words: 'share of the time that was observed',
    read: ({ observed }) => observed.coverageRatio,
  }),
  figure('longestIdleS', { unit: 's', words: 'longest idle', read: ({ longestIdleS }) => longestIdleS }),
  figure('hotShutdowns', { unit: '', words: 'hot stops so far', read: ({ hotShutdowns }) => hotShutdowns }),
  figure('idleRatio', {
    unit: '',
    words: 'share of the running time spent idling',
    read: ({ residency }) => share(residency.idleS, residency.runningS),
  }),
  figure('belowReleaseRatio', {
    unit: '',
    words: 'share of the running time below the release temperature',
    read: ({ residency }) => share(residency.belowReleaseS, residency.runningS),
  }),
];

export const figureNames = figures.map(({ name }) => name);

const byName = new Map(figures.map((one) => [one.name, one]));

/** The figure of a name; undefined for a name that is none. */
export function figureOf(name: string): Figure | undefined {
  return byName.get(name);
}
