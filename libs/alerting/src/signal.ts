/** What a rule makes of a finding or a figure: whether its condition holds, and with which numbers. */

import type { Finding, FindingValue, Severity } from '@warmbrick/analysis';
import { severities } from '@warmbrick/analysis';
import type { Alert } from './alert.js';
import type { RuleOn } from './machine-rules.js';
import type { FigureCondition, FindingCondition, Rule, Where } from './rule.js';

export interface Signal {
  /** By the level to raise at, or for an alert that is open by the level to clear at. */
  readonly holds: boolean;
  /** Machine time at which it began, and ended; null while it goes on. */
  readonly startedMs: number;
  readonly endedMs: number | null;
  readonly severity: Severity;
  readonly figures: Readonly<Record<string, FindingValue>>;
  readonly findingId: string | null;
  readonly thresholdSet: string | null;
}

/** From mild to grave as a number. */
export function rankOf(severity: Severity): number {
  return severities.indexOf(severity);
}

/** A finding as a rule sees it. */
export function findingSignal(rule: RuleOn<FindingCondition>, finding: Finding, isOpen: boolean): Signal {
  const { where, leastSeverity } = rule.when;
  // A finding that ends may be milder than it was while it went on; that ends the alert and does not unmake it.
  const isGrave = isOpen || rankOf(finding.severity) >= rankOf(leastSeverity);
  return {
    holds: isGrave && where.every((one) => whereHolds(one, finding.values[one.value] ?? null, isOpen)),
    startedMs: finding.startedMs,
    endedMs: finding.endedMs,
    severity: rule.severity === 'as-found' ? finding.severity : rule.severity,
    figures: finding.values,
    findingId: finding.id,
    thresholdSet: finding.thresholdSet,
  };
}

function whereHolds(where: Where, value: FindingValue, isOpen: boolean): boolean {
  const { is, anyOf, atLeast, atMost } = where;
  if (is !== undefined) return value === is;
  if (anyOf !== undefined) return typeof value === 'string' && anyOf.includes(value);
  if (typeof value !== 'number') return false;
  if (atLeast !== undefined) return value >= (isOpen ? (where.clearBelow ?? atLeast) : atLeast);
  return value <= (isOpen ? (where.clearAbove ?? (atMost as number)) : (atMost as number));
}

/** A figure as a rule sees it at a time. */
export function figureSignal(
  rule: RuleOn<FigureCondition>,
  value: number,
  at: { readonly atMs: number; readonly alert: Alert | null },
): Signal {
  const { figure, atLeast, atMost, clearBelow, clearAbove } = rule.when;
  const isOpen = at.alert !== null;
  const levelUp = isOpen ? (clearBelow ?? atLeast) : atLeast;
  const levelDown = isOpen ? (clearAbove ?? atMost) : atMost;
  const holds = levelUp === undefined ? value <= (levelDown as number) : value >= levelUp;
  return {
    holds,
    startedMs: at.alert?.startedMs ?? at.atMs,
    endedMs: null,
    severity: severityOf(rule, value, atMost !== undefined),
    figures: { [figure]: rounded(value), level: (atLeast ?? atMost) as number },
    findingId: null,
    thresholdSet: null,
  };
}

/** The severity that a rule over a figure gives to a value. */
export function severityOf(rule: Rule, value: number, isDownward: boolean): Severity {
  let severity: Severity = rule.severity === 'as-found' ? 'warning' : rule.severity;
  for (const step of rule.severitySteps) {
    if (isDownward ? value <= step.at : value >= step.at) severity = step.severity;
  }
  return severity;
}

/** Figures of an alert carry four places at most. */
export function rounded(value: number): number {
  return Math.round(value * 10_000) / 10_000;
}
