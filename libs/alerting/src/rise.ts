/** Figures that rise fast: hour by hour the lowest value, and what stands above the lowest of late. */

import type { MachineSummary } from '@warmbrick/analysis';
import type { Alert } from './alert.js';
import { settleHours, type TrailPoint, trailHours } from './alerting-state.js';
import { figureOf } from './figures.js';
import type { RuleOn } from './machine-rules.js';
import type { RiseCondition } from './rule.js';
import { rounded, type Signal, severityOf } from './signal.js';

type Trails = Readonly<Record<string, readonly TrailPoint[]>>;

const hourMs = 3_600_000;
/** Once risen, it has to fall back below so much of the rise. Source: engineering judgement. */
const clearRatio = 0.5;

/** Notes the figures that rules watch; the very same trails when nothing was lower. */
export function extendTrails(
  trails: Trails,
  rules: readonly RuleOn<RiseCondition>[],
  at: { readonly summary: MachineSummary; readonly atMs: number },
): Trails {
  const watched = new Set(rules.map(({ when }) => when.rising));
  const isKept = Object.keys(trails).every((name) => watched.has(name));
  let next: Record<string, readonly TrailPoint[]> | null = isKept
    ? null
    : Object.fromEntries(Object.entries(trails).filter(([name]) => watched.has(name)));
  for (const name of watched) {
    const value = figureOf(name)?.read(at.summary) ?? null;
    if (value === null) continue;
    const before = trails[name] ?? [];
    const after = extend(before, value, Math.floor(at.atMs / hourMs) * hourMs);
    if (after === before) continue;
    next ??= { ...trails };
    next[name] = after;
  }
  return next ?? trails;
}

function extend(trail: readonly TrailPoint[], value: number, atHourMs: number): readonly TrailPoint[] {
  const last = trail[trail.length - 1];
  if (last === undefined || atHourMs > last.hourMs) {
    return [...trail, { hourMs: atHourMs, value: rounded(value) }].slice(-trailHours);
  }
  if (atHourMs < last.hourMs || rounded(value) >= last.value) return trail;
  return [...trail.slice(0, -1), { hourMs: atHourMs, value: rounded(value) }];
}

/** How a rule over a rise stands; null without the figure. The first hours of a trail do not count. The hour that is under way counts with its lowest. */
export function riseSignal(
  rule: RuleOn<RiseCondition>,
  trails: Trails,
  at: { readonly summary: MachineSummary; readonly atMs: number; readonly alert: Alert | null },
): Signal | null {
  const { rising, by, withinS } = rule.when;
  const value = figureOf(rising)?.read(at.summary) ?? null;
  if (value === null) return null;
  const trail = trails[rising] ?? [];
  // What has only just become known has not risen.
  const settledMs = (trail[0]?.hourMs ?? at.atMs) + settleHours * hourMs;
  const fromMs = Math.max(at.atMs - withinS * 1000, settledMs);
  let lowest = value;
  for (const point of trail) if (point.hourMs + hourMs > fromMs) lowest = Math.min(lowest, point.value);
  const risen = value - lowest;
  return {
    holds: risen >= (at.alert === null ? by : by * clearRatio),
    startedMs: at.alert?.startedMs ?? at.atMs,
    endedMs: null,
    severity: severityOf(rule, risen, false),
    figures: { [rising]: rounded(value), risenBy: rounded(risen), withinS },
    findingId: null,
    thresholdSet: null,
  };
}
