/** The work of one fold: a draft of the state, and how a step is told. */

import type { Severity } from '@warmbrick/analysis';
import {
  type Alert,
  type AlertEvent,
  type AlertGroup,
  type AlertStep,
  episodeIdOf,
  type Notice,
  type QuietReason,
  untouched,
} from './alert.js';
import { type AlertingState, mostOpen, type TrailPoint } from './alerting-state.js';
import type { MachineRules } from './machine-rules.js';
import type { Rule } from './rule.js';
import { rankOf, type Signal } from './signal.js';
import { suppressionOf } from './suppression.js';
import { wordsOf } from './words.js';

export interface Work {
  readonly rules: MachineRules;
  /** Wall clock, and the machine time that the input brings the machine to. */
  readonly nowMs: number;
  readonly atMs: number;
  readonly isRewound: boolean;
  isWatched: boolean;
  turnedAway: number;
  trails: Readonly<Record<string, readonly TrailPoint[]>>;
  lastStarts: Readonly<Record<string, number>>;
  /** Alerts that are open, by episode, in the order in which they began. */
  readonly open: Map<string, Alert>;
  /** Alerts as they stand after the fold, for those that were told of or whose figures were renewed. */
  readonly touched: Map<string, Alert>;
  readonly events: AlertEvent[];
}

/** What a fold gives: the next state, the alerts to write, the steps to tell. */
export interface Folded {
  readonly state: AlertingState;
  /** Alerts that differ from what is stored, open and closed. One that never opened is not among them. */
  readonly alerts: readonly Alert[];
  readonly events: readonly AlertEvent[];
}

/** Starts a fold; nothing passed in is changed. */
export function beginWork(
  rules: MachineRules,
  state: AlertingState,
  at: { readonly nowMs: number; readonly atMs: number; readonly isRewound: boolean },
): Work {
  const { isWatched, turnedAway, trails, lastStarts } = state;
  const open = new Map(state.open.map((alert) => [alert.episodeId, alert]));
  return { rules, ...at, isWatched, turnedAway, trails, lastStarts, open, touched: new Map(), events: [] };
}

/** Ends a fold. A fold that changed nothing gives the very state that it began with. */
export function endWork(work: Work, before: AlertingState): Folded {
  const { isWatched, turnedAway, trails, lastStarts, open, touched, events } = work;
  const alerts = [...touched.values()].filter(({ sequence }) => sequence >= 0);
  const isSame =
    isWatched === before.isWatched &&
    turnedAway === before.turnedAway &&
    trails === before.trails &&
    lastStarts === before.lastStarts &&
    open.size === before.open.length &&
    before.open.every((alert) => open.get(alert.episodeId) === alert);
  const state = isSame ? before : { ...before, isWatched, turnedAway, trails, lastStarts, open: [...open.values()] };
  return { state, alerts, events };
}

/** A new alert out of a signal, not yet told; null, and counted, when too many are open. */
export function newAlert(work: Work, rule: Rule, signal: Signal): Alert | null {
  if (work.open.size >= mostOpen) {
    work.turnedAway++;
    return null;
  }
  const { place } = work.rules;
  const startedMs = signal.findingId === null ? freshStart(work, rule, signal.startedMs) : signal.startedMs;
  return {
    episodeId: episodeIdOf(place.machineId, rule.id, startedMs),
    machineId: place.machineId,
    ruleId: rule.id,
    group: groupOf(work),
    condition: 'clear',
    severity: signal.severity,
    startedMs,
    openedMs: null,
    endedMs: signal.endedMs,
    learnedMs: null,
    pendingMs: null,
    isPast: false,
    isWithdrawn: false,
    sequence: -1,
    toldSequence: -1,
    lastAtMs: startedMs,
    judgedMs: work.nowMs,
    pagedMs: null,
    findingId: signal.findingId,
    figures: signal.figures,
    thresholdSet: signal.thresholdSet,
    operator: untouched,
    words: { title: rule.title, text: '', advice: rule.advice, caution: rule.caution },
  };
}

/** Two alerts of a rule over a figure may begin at one machine time when late data changes the figure and changes it back. */
function freshStart(work: Work, rule: Rule, startedMs: number): number {
  const lastMs = work.lastStarts[rule.id] ?? Number.NEGATIVE_INFINITY;
  const freshMs = Math.max(startedMs, lastMs + 1);
  const known = Object.entries(work.lastStarts).filter(([id]) => work.rules.byId.has(id));
  work.lastStarts = { ...Object.fromEntries(known), [rule.id]: freshMs };
  return freshMs;
}

function groupOf({ rules }: Work): AlertGroup {
  const { machineId, profile } = rules.place;
  const { site = null, name = machineId, machineClass, timeZone } = profile;
  return { site, machineName: name, machineClass, timeZone };
}

/** Keeps an alert as it now stands: open ones in the state, closed ones only among what is to be written. */
export function keep(work: Work, alert: Alert): void {
  if (alert.condition === 'clear') work.open.delete(alert.episodeId);
  else work.open.set(alert.episodeId, alert);
  work.touched.set(alert.episodeId, alert);
}

/** Forgets an alert that never opened. */
export function forget(work: Work, alert: Alert): void {
  work.open.delete(alert.episodeId);
  work.touched.delete(alert.episodeId);
}

export interface Telling {
  readonly step: AlertStep;
  /** The alert before, and what the step changes. */
  readonly from: Alert;
  readonly to: Partial<Alert>;
  /** Whether it asks for somebody, if nothing speaks against it. */
  readonly isLoud?: boolean;
  readonly corrects?: number | null;
  /** A correction of figures only, which nobody needs to be told of. */
  readonly isMinor?: boolean;
  readonly actor?: string | null;
  readonly note?: string | null;
  readonly escalateTo?: string | null;
}

/** Steps that say how the condition stands, and can be corrected later on. */
const conditionSteps: readonly AlertStep[] = [
  'opened',
  'worsened',
  'eased',
  'closed',
  'corrected',
  'withdrawn',
  'reopened',
];
/** Steps that are only for the record. */
const quietSteps: readonly AlertStep[] = ['commented', 'suppressed', 'unsuppressed'];
/** Steps that change what was told. */
const correctingSteps: readonly AlertStep[] = ['corrected', 'withdrawn'];
/**
 * What ended longer ago is corrected in the history only: an analysis that was made better tells nobody of last year.
 * Source: engineering judgement.
 */
const correctionToldMs = 7 * 86_400_000;
/** Steps that whoever was paged has to hear of, whatever has happened since. */
const owedSteps: readonly AlertStep[] = ['closed', 'corrected', 'withdrawn'];

/** Takes a step: the alert with its next sequence is kept, and the event is written. */
export function tell(work: Work, telling: Telling): Alert {
  const { step, from, to } = telling;
  const sequence = from.sequence + 1;
  const draft: Alert = {
    ...from,
    ...to,
    sequence,
    toldSequence: conditionSteps.includes(step) ? sequence : from.toldSequence,
    lastAtMs: Math.max(from.lastAtMs, work.atMs),
  };
  const rule = work.rules.byId.get(draft.ruleId) ?? null;
  const loudness = loudnessOf(draft, telling, { rule, nowMs: work.nowMs });
  const words = wordsOf(rule, draft, step);
  const pagedMs = loudness.notice === 'page' ? work.nowMs : draft.pagedMs;
  const alert = { ...draft, pagedMs, words };
  keep(work, alert);
  work.events.push({
    episodeId: alert.episodeId,
    machineId: alert.machineId,
    sequence,
    step,
    ...loudness,
    from: from.condition,
    to: alert.condition,
    corrects: telling.corrects ?? null,
    atMs: alert.lastAtMs,
    learnedMs: work.nowMs,
    actor: telling.actor ?? null,
    note: telling.note ?? null,
    escalateTo: telling.escalateTo ?? null,
    words,
    alert,
  });
  return alert;
}

function loudnessOf(
  alert: Alert,
  { step, isLoud = false, isMinor = false }: Telling,
  { rule, nowMs }: { readonly rule: Rule | null; readonly nowMs: number },
): { notice: Notice; quietBecause: QuietReason | null } {
  const isGrave = rankOf(alert.severity) >= rankOf(rule?.pagesFrom ?? 'severe');
  const hush = hushOf(alert);
  const wouldPage = isLoud && isGrave && (alert.condition !== 'clear' || hush !== null);
  if (wouldPage)
    return hush === null ? { notice: 'page', quietBecause: null } : { notice: 'quiet', quietBecause: hush };
  const isOfLate = alert.endedMs === null || nowMs - alert.endedMs <= correctionToldMs;
  const isOwed = alert.pagedMs !== null && isOfLate && owedSteps.includes(step);
  const isHushed = hush !== null && hush !== 'acknowledged';
  const isOld = !isOfLate && correctingSteps.includes(step);
  const isRecord = quietSteps.includes(step) || isMinor || isOld || (isHushed && !isOwed);
  return { notice: isRecord ? 'quiet' : 'inform', quietBecause: null };
}

function hushOf({ isPast, operator }: Alert): QuietReason | null {
  if (isPast) return 'past';
  if (operator.shelvedUntilMs !== null) return 'shelved';
  if (operator.suppression !== 'none') return operator.suppression;
  return operator.isAcknowledged ? 'acknowledged' : null;
}

/** Whether an alert asks for somebody who has not yet come. */
export function isWaiting({ condition, isPast, operator }: Alert): boolean {
  return (condition === 'active' || condition === 'unknown') && !isPast && !operator.isAcknowledged;
}

/** Opens an alert: active, or closed at once where it is over already. */
export function open(work: Work, rule: Rule, alert: Alert): Alert {
  const { endedMs, operator } = alert;
  const latenessMs = work.nowMs - (endedMs ?? work.atMs);
  const isPast = latenessMs > rule.latenessS * 1000;
  const isOver = endedMs !== null && (isPast || !rule.isLatched);
  const at = isPast ? (endedMs ?? work.atMs) : work.nowMs;
  return tell(work, {
    step: 'opened',
    from: alert,
    to: {
      condition: isOver ? 'clear' : 'active',
      openedMs: endedMs ?? work.atMs,
      learnedMs: work.nowMs,
      judgedMs: work.nowMs,
      pendingMs: null,
      isPast,
      operator: { ...operator, ...suppressionOf(work.rules, rule, at) },
    },
    isLoud: true,
  });
}

/** The mildest step name for a change of severity while an alert goes on. */
export function severityStep(from: Severity, to: Severity): 'worsened' | 'eased' {
  return rankOf(to) > rankOf(from) ? 'worsened' : 'eased';
}
