/** Drives the fold as the store does, in memory: state and alerts go through JSON at each step. */

import {
  type Alert,
  type AlertEvent,
  type AlertingState,
  type AnalysedChange,
  act,
  builtInRules,
  type Folded,
  foldChange,
  foldTick,
  initialAlertingState,
  type MachineRules,
  type MaintenanceWindow,
  machineRules,
  type OperatorAction,
  type Rule,
  recallOf,
  type TickInput,
} from '@warmbrick/alerting';
import type { MachineProfile } from '@warmbrick/signals';

export interface AlertDriver {
  change(change: AnalysedChange, nowMs: number): void;
  tick(input: TickInput): void;
  /** Does it to the alert that began last. Returns why not, or null. */
  act(action: OperatorAction, nowMs: number): string | null;
  /** The last change once more, as after a crash before its acknowledgement was seen. */
  again(): void;
  /** State and alerts as a new process would read them. */
  restart(): void;
  events(): AlertEvent[];
  alerts(): Alert[];
  state(): AlertingState;
  rules: MachineRules;
}

export interface DriverOptions {
  readonly machineId: string;
  readonly profile: MachineProfile;
  /** Only these are in force. */
  readonly rules: readonly Rule[];
  readonly windows?: readonly MaintenanceWindow[];
}

const copy = <T>(value: T): T => JSON.parse(JSON.stringify(value)) as T;

/** Makes a driver with nothing stored. */
export function createAlertDriver({ machineId, profile, rules, windows = [] }: DriverOptions): AlertDriver {
  const off = builtInRules
    .filter(({ id }) => !rules.some((rule) => rule.id === id))
    .map((rule) => ({ ...rule, isEnabled: false }));
  const book = { ownRules: [...rules, ...off].map((rule) => ({ fleetId: 'main', rule })), windows };
  const own = machineRules(book, { machineId, fleetId: 'main', profile });
  let state = initialAlertingState(machineId);
  const stored = new Map<string, Alert>();
  const events: AlertEvent[] = [];
  let last: { change: AnalysedChange; nowMs: number } | null = null;

  const write = (folded: Folded) => {
    state = folded.state;
    for (const alert of folded.alerts) stored.set(alert.episodeId, alert);
    for (const event of folded.events) {
      const twin = events.find((one) => one.episodeId === event.episodeId && one.sequence === event.sequence);
      if (twin !== undefined) throw new Error(`step ${event.sequence} of ${event.episodeId} twice`);
      events.push(event);
    }
  };
  const change = (it: AnalysedChange, nowMs: number) => {
    last = { change: it, nowMs };
    const recall = recallOf(own, state, it);
    const recalled = [...stored.values()].filter(
      (alert) => recall.episodeIds.includes(alert.episodeId) || recall.findingIds.includes(alert.findingId ?? ''),
    );
    write(foldChange(own, state, { change: it, nowMs, recalled: copy(recalled) }));
  };
  return {
    rules: own,
    change,
    tick: (input) => write(foldTick(own, state, input)),
    act(action, nowMs) {
      const alert = [...stored.values()].sort((a, b) => b.startedMs - a.startedMs)[0];
      if (alert === undefined) throw new Error('there is no alert to act on');
      const acted = act(own, state, { alert, action, actor: 'dispatcher', nowMs });
      if (acted.folded !== null) write(acted.folded);
      return acted.refusal;
    },
    again: () => {
      if (last !== null) change(last.change, last.nowMs);
    },
    restart() {
      state = copy(state);
      for (const [id, alert] of stored) stored.set(id, copy(alert));
    },
    events: () => events,
    alerts: () => [...stored.values()],
    state: () => state,
  };
}
