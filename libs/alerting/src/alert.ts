/** Alerts and the steps of their lives. Words: ISA-18.2 and OPC UA Part 9; times are epoch milliseconds. */

import type { FindingValue, Severity } from '@warmbrick/analysis';

/**
 * States of an alert's condition: qualifying is the on-delay, releasing the off-delay; `unknown` while the data is missing,
 * which never clears anything.
 */
export const conditionStates = ['clear', 'qualifying', 'active', 'releasing', 'unknown'] as const;
export type ConditionState = (typeof conditionStates)[number];

/** Why an active alert is not indicated. Source: ISA-18.2, the words for states that suppress an alarm. */
export const suppressions = ['none', 'suppressed-by-design', 'out-of-service'] as const;
export type Suppression = (typeof suppressions)[number];

/** Steps of an alert's life that are kept and told. Codes are never reused. */
export const alertSteps = [
  'opened',
  /** Severity has risen, or fallen, while it goes on. */
  'worsened',
  'eased',
  /** The data went missing; or came back, and the condition still holds. */
  'unknown',
  'known',
  /** Was about the past; its machine has caught up, and the condition still holds. */
  'caught-up',
  'closed',
  /** The finding was revised by data that came late: figures, end or severity differ from what was told. */
  'corrected',
  /** The finding no longer holds and never did. */
  'withdrawn',
  /** Told as closed or withdrawn; the revised finding goes on. */
  'reopened',
  'escalated',
  'acknowledged',
  'assigned',
  'shelved',
  'unshelved',
  'commented',
  'suppressed',
  'unsuppressed',
] as const;
export type AlertStep = (typeof alertSteps)[number];

/** How loud a step is: somebody has to be reached now; worth a line where people look; only for the record. */
export const notices = ['page', 'inform', 'quiet'] as const;
export type Notice = (typeof notices)[number];

/** Why a step that would page does not. */
export const quietReasons = ['past', 'shelved', 'suppressed-by-design', 'out-of-service', 'acknowledged'] as const;
export type QuietReason = (typeof quietReasons)[number];

/** What alerts are grouped by. */
export interface AlertGroup {
  readonly site: string | null;
  readonly machineName: string;
  readonly machineClass: string;
  /** IANA name: times in words are the machine's. */
  readonly timeZone: string;
}

/** The operator's axis; independent of the condition. */
export interface OperatorState {
  readonly isAcknowledged: boolean;
  readonly acknowledgedBy: string | null;
  readonly acknowledgedMs: number | null;
  readonly assignee: string | null;
  /** Wall clock at which the shelf ends by itself. */
  readonly shelvedUntilMs: number | null;
  readonly shelvedBy: string | null;
  readonly shelveReason: string | null;
  readonly suppression: Suppression;
  readonly suppressionReason: string | null;
  /** Number of escalation steps taken; 0 before the first. */
  readonly escalationLevel: number;
}

/** One episode, from raise to clear. */
export interface Alert {
  /** Made of machine, rule and start, so that the same again after a crash is the same alert. */
  readonly episodeId: string;
  readonly machineId: string;
  readonly ruleId: string;
  readonly group: AlertGroup;
  readonly condition: ConditionState;
  /** As it stands; not part of the identity. */
  readonly severity: Severity;
  /** Machine time at which the condition began, became an alert, and ended. */
  readonly startedMs: number;
  readonly openedMs: number | null;
  readonly endedMs: number | null;
  /** Wall clock at which it was opened. */
  readonly learnedMs: number | null;
  /** Machine time since which it qualifies or releases; since when it is unknown. */
  readonly pendingMs: number | null;
  /** Learned so late that it pages nobody. */
  readonly isPast: boolean;
  readonly isWithdrawn: boolean;
  /** Of the last step; -1 while nothing was told. */
  readonly sequence: number;
  /** Sequence of the step that told of the condition last: what a correction corrects. */
  readonly toldSequence: number;
  /** Machine time of the last step; the times of an alert's steps never fall. */
  readonly lastAtMs: number;
  /** Wall clock at which its condition was last judged, to the minute: what `unknown` is counted from. */
  readonly judgedMs: number;
  /** Wall clock at which it last paged; null while it never has. Escalation counts from here. */
  readonly pagedMs: number | null;
  /** The finding behind it, and its figures; for a rule over a figure that figure. */
  readonly findingId: string | null;
  readonly figures: Readonly<Record<string, FindingValue>>;
  readonly thresholdSet: string | null;
  readonly operator: OperatorState;
  /** As last told. */
  readonly words: AlertWords;
}

/** What a person is told. */
export interface AlertWords {
  /** A few words, such as the subject of a mail; the same for the whole life of the alert. */
  readonly title: string;
  /** One sentence with the figures. */
  readonly text: string;
  /** What to do, and what to mind when doing so; null where there is nothing to say. */
  readonly advice: string | null;
  readonly caution: string | null;
}

/** One step, with the alert as it stands after it. Episode and sequence are its identity. */
export interface AlertEvent {
  readonly episodeId: string;
  readonly machineId: string;
  readonly sequence: number;
  readonly step: AlertStep;
  readonly notice: Notice;
  /** Why a step that would page is quiet; null for one that pages or never would. */
  readonly quietBecause: QuietReason | null;
  readonly from: ConditionState;
  readonly to: ConditionState;
  /** Sequence of the step that this one corrects. */
  readonly corrects: number | null;
  /** Machine time, and the wall clock at which it was learned. */
  readonly atMs: number;
  readonly learnedMs: number;
  /** Who did it; null for a step of the fold. */
  readonly actor: string | null;
  readonly note: string | null;
  /** Of an escalation: whom the rule names. */
  readonly escalateTo: string | null;
  readonly words: AlertWords;
  readonly alert: Alert;
}

/** The identity of an alert. */
export function episodeIdOf(machineId: string, ruleId: string, startedMs: number): string {
  return `${machineId}~${ruleId}~${startedMs}`;
}

/** The state in which an alert begins. */
export const untouched: OperatorState = {
  isAcknowledged: false,
  acknowledgedBy: null,
  acknowledgedMs: null,
  assignee: null,
  shelvedUntilMs: null,
  shelvedBy: null,
  shelveReason: null,
  suppression: 'none',
  suppressionReason: null,
  escalationLevel: 0,
};
