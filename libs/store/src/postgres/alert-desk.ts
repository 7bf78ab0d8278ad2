/** What a process remembers for alerting: rules for a few seconds, states as of their last commit. Nothing here is the truth. */

import {
  type AlertEvent,
  type AlertingState,
  type MachinePlace,
  type MachineRules,
  machineRules,
  type RuleBook,
} from '@warmbrick/alerting';
import type { AlertingConfig } from '../alert-store.js';
import { readRuleBook } from './alert-rules.js';
import type { Session } from './database.js';

/** How long a process may go on with the rules it read. A change elsewhere is in force after that. */
export const bookKeptMs = 5000;
/** How long a machine's profile and fleet are believed. Source: engineering judgement. */
const placeKeptMs = 60_000;
/** Machines remembered at most. Source: engineering judgement; a few KB each. */
const mostMachines = 20_000;

/** A machine's state as stored under a version. Version 0: nothing is stored. */
export interface DeskEntry {
  readonly version: number;
  readonly state: AlertingState;
  readonly rules: MachineRules;
  readonly placeReadMs: number;
}

export interface AlertDesk {
  readonly config: AlertingConfig;
  /** The rules in force. */
  book(session: Session): Promise<RuleBook>;
  forgetBook(): void;
  /** What is remembered of a machine, unless its profile has to be read again. */
  known(machineId: string): DeskEntry | null;
  /** The sorted rules of a machine; those remembered where nothing has changed. */
  rulesFor(book: RuleBook, place: MachinePlace): MachineRules;
  /** Remembers what was committed. */
  settle(entries: readonly (readonly [string, DeskEntry])[], events: readonly AlertEvent[]): void;
  forget(machineId: string): void;
}

/** Makes a desk that remembers nothing yet. */
export function createAlertDesk(config: AlertingConfig): AlertDesk {
  const entries = new Map<string, DeskEntry>();
  let book: { readonly book: RuleBook; readonly untilMs: number } | null = null;
  return {
    config,
    async book(session) {
      const nowMs = config.now();
      if (book === null || nowMs >= book.untilMs || nowMs < book.untilMs - bookKeptMs) {
        const read = await readRuleBook(session, nowMs);
        // The same rules stay the same object, so that what was sorted by them holds.
        const isSame = book !== null && JSON.stringify(book.book) === JSON.stringify(read);
        book = { book: isSame && book !== null ? book.book : read, untilMs: nowMs + bookKeptMs };
      }
      return book.book;
    },
    forgetBook: () => {
      book = null;
    },
    known(machineId) {
      const entry = entries.get(machineId) ?? null;
      return entry !== null && config.now() - entry.placeReadMs < placeKeptMs ? entry : null;
    },
    rulesFor(inForce, place) {
      const known = entries.get(place.machineId)?.rules;
      const isSame =
        known !== undefined &&
        known.book === inForce &&
        known.place.fleetId === place.fleetId &&
        JSON.stringify(known.place.profile) === JSON.stringify(place.profile);
      return isSame ? known : machineRules(inForce, place);
    },
    settle(settled, events) {
      for (const [machineId, entry] of settled) {
        entries.delete(machineId);
        entries.set(machineId, entry);
        if (entries.size > mostMachines) entries.delete(entries.keys().next().value as string);
      }
      if (events.length > 0) config.onEvents?.(events);
    },
    forget: (machineId) => void entries.delete(machineId),
  };
}
