/** Alerts as stored: what is open and was, every step of it, the rules behind it, and what people do to it. */

import type { Alert, AlertEvent, ConditionState, MaintenanceWindow, OperatorAction, Rule } from '@warmbrick/alerting';
import type { AnalyzerSnapshot, Finding, MachineSummary, Severity } from '@warmbrick/analysis';
import type { MachineProfile } from '@warmbrick/signals';
import type { Page } from './store.js';

export interface AlertPage {
  readonly limit: number;
  readonly cursor?: string | undefined;
  readonly machineId?: string | undefined;
  readonly site?: string | undefined;
  /** Machines of these fleets only. */
  readonly fleets?: readonly string[] | undefined;
  readonly ruleIds?: readonly string[] | undefined;
  readonly severities?: readonly Severity[] | undefined;
  readonly conditions?: readonly ConditionState[] | undefined;
  readonly isAcknowledged?: boolean | undefined;
  /** Machine time at which they began. */
  readonly fromMs?: number | undefined;
  readonly toMs?: number | undefined;
}

/** A rule that somebody has set; one with the id of a built-in rule stands in its place. */
export interface StoredRule {
  readonly fleetId: string;
  readonly rule: Rule;
  /** Rises with each change. */
  readonly revision: number;
  readonly changedMs: number;
  readonly changedBy: string;
}

export interface RuleChange {
  readonly fleetId: string;
  readonly rule: Rule;
  readonly by: string;
  readonly nowMs: number;
  /** Revision that the change was made from, 0 for a rule that nobody has set; left out, whatever there is is replaced. */
  readonly basedOn?: number | undefined;
}

/** What an action did. */
export type ActionOutcome =
  | { readonly outcome: 'done'; readonly alert: Alert; readonly events: readonly AlertEvent[] }
  /** In words why not. */
  | { readonly outcome: 'refused'; readonly reason: string }
  | { readonly outcome: 'unknown-alert' };

/** What a rule is tried on. */
export interface MachineHistory {
  readonly machineId: string;
  readonly fleetId: string;
  readonly profile: MachineProfile;
  readonly summary: MachineSummary;
  /** Findings that were not withdrawn and began in the time, oldest first. */
  readonly findings: readonly Finding[];
  /** Kept states in order of time: every half hour of the last day, one a day before; none unless asked for. */
  readonly snapshots: readonly { readonly atMs: number; readonly snapshot: AnalyzerSnapshot }[];
}

export interface AlertStore {
  /** Those that began last first. */
  listAlerts(page: AlertPage): Promise<Page<Alert>>;
  /** With all its steps, oldest first; null for an unknown one. */
  getAlert(episodeId: string): Promise<{ readonly alert: Alert; readonly events: readonly AlertEvent[] } | null>;
  /** Does something to an alert, in one transaction with its event and the message about it. */
  actOnAlert(
    episodeId: string,
    action: OperatorAction,
    by: { readonly actor: string; readonly nowMs: number },
  ): Promise<ActionOutcome>;
  /**
   * Lets time pass for machines for which it may change something, at most `limit` of them; machines that others are at
   * work on are left to the next time. Any number of processes may call it. Returns how many machines were looked at.
   */
  tickAlerts(nowMs: number, limit: number): Promise<number>;

  /** Hears of every step that any process commits from now on, once each; returns how to stop. */
  followAlerts(onEvents: (events: readonly AlertEvent[]) => void): { stop(): Promise<void> };

  listRules(fleetIds: readonly string[] | 'all'): Promise<StoredRule[]>;
  /** Sets a rule of a fleet, new or changed; null when somebody else has changed it since `basedOn`. */
  putRule(change: RuleChange): Promise<StoredRule | null>;
  /** Takes it away; a built-in rule is in force again then. Returns whether there was one. */
  deleteRule(fleetId: string, ruleId: string, nowMs: number): Promise<boolean>;
  /** Windows that end after a time. */
  listMaintenanceWindows(endAfterMs: number): Promise<MaintenanceWindow[]>;
  /** False for an id that is taken. */
  addMaintenanceWindow(window: MaintenanceWindow, nowMs: number): Promise<boolean>;
  deleteMaintenanceWindow(id: string, nowMs: number): Promise<boolean>;
  /** Findings that began in [fromMs, toMs) of at most `limit` machines, for trying a rule. */
  machineHistories(range: {
    readonly fleetIds: readonly string[] | 'all';
    readonly fromMs: number;
    readonly toMs: number;
    readonly kinds: readonly string[];
    readonly hasSnapshots: boolean;
    readonly limit: number;
  }): Promise<MachineHistory[]>;
}

/** What alerting needs from the process that opens the store; without it commits make no alerts. */
export interface AlertingConfig {
  /** The wall clock in UTC epoch ms. */
  readonly now: () => number;
  /** Whether each step also goes into the outbox. Without somebody who sends them on they would only pile up. */
  readonly outbox: boolean;
  /** Told of the steps of this process after their commit. */
  readonly onEvents?: ((events: readonly AlertEvent[]) => void) | undefined;
}
