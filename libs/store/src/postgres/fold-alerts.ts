/** Alerts within the transactions that bring them about: a batch of samples, and passing time. */

import {
  type Alert,
  type AlertEvent,
  foldChange,
  foldTick,
  initialAlertingState,
  type MachinePlace,
  nextDueMs,
  type Recall,
  type RuleBook,
  recallOf,
} from '@warmbrick/alerting';
import type { MachineChange } from '../store.js';
import type { AlertDesk, DeskEntry } from './alert-desk.js';
import type { Database, Session } from './database.js';
import { type FoldedMachine, writeAlerts } from './write-alerts.js';

/** What the desk has to be told once the transaction is through. */
export interface AlertDraft {
  readonly entries: readonly (readonly [string, DeskEntry])[];
  readonly events: readonly AlertEvent[];
}

/**
 * Folds the alerts of changed machines, whose rows are locked: nobody else folds for them meanwhile. A machine whose state
 * is as remembered costs a version number to read and, when nothing changes, nothing to write.
 */
export async function foldAlerts(
  session: Session,
  desk: AlertDesk,
  changes: readonly MachineChange[],
): Promise<AlertDraft> {
  const nowMs = desk.config.now();
  const entries = await readEntries(
    session,
    desk,
    changes.map(({ machineId }) => machineId),
  );
  const known = changes.flatMap((change) => {
    const entry = entries.get(change.machineId);
    return entry === undefined ? [] : [{ change, entry }];
  });
  const recalled = await recall(
    session,
    known.map(({ change, entry }) => ({
      machineId: change.machineId,
      recall: recallOf(entry.rules, entry.state, change),
    })),
  );
  const machines = known.map(({ change, entry }) => {
    const folded = foldChange(entry.rules, entry.state, {
      change,
      nowMs,
      recalled: recalled.get(change.machineId) ?? [],
    });
    return foldedOf(entry, folded, { nowMs, seenMs: change.summary?.observed.toMs ?? null });
  });
  await writeAlerts(session, machines, desk.config.outbox);
  return draftOf(entries, machines);
}

/** Lets time pass; see `AlertStore.tickAlerts`. */
export async function tickAlerts(
  database: Database,
  desk: AlertDesk,
  { nowMs, limit }: { nowMs: number; limit: number },
): Promise<number> {
  const draft = await database.inTransaction(async (session) => {
    // Locked first, read afterwards: what is read is then what was committed last.
    const { rows } = await session.query({
      name: 'lock-due',
      text: `SELECT m.machine_id, m.last_sample FROM alert_state s JOIN machine m USING (machine_id)
        WHERE s.next_due <= $1 ORDER BY s.next_due LIMIT $2 FOR UPDATE OF m SKIP LOCKED`,
      values: [Math.floor(nowMs), limit],
    });
    if (rows.length === 0) return null;
    const seen = new Map(rows.map((row) => [row.machine_id as string, row.last_sample as number | null]));
    const entries = await readEntries(session, desk, [...seen.keys()].sort());
    const machines = [...entries].map(([machineId, entry]) => {
      const input = { nowMs, seenMs: seen.get(machineId) ?? null };
      return foldedOf(entry, foldTick(entry.rules, entry.state, input), input);
    });
    await writeAlerts(session, machines, desk.config.outbox);
    await session.query({
      name: 'write-due',
      text: `UPDATE alert_state s SET next_due = t.next_due FROM unnest($1::text[], $2::int8[]) AS t(machine_id, next_due)
        WHERE s.machine_id = t.machine_id`,
      values: [
        machines.map(({ machineId }) => machineId),
        machines.map((machine) => (machine.nextDueMs === null ? null : Math.ceil(machine.nextDueMs))),
      ],
    });
    return draftOf(entries, machines);
  });
  if (draft === null) return 0;
  desk.settle(draft.entries, draft.events);
  return draft.entries.length;
}

/**
 * The states of machines: those remembered where the version is the same, else as stored. For most batches that is one
 * short look into an index, however many machines there are.
 */
async function readEntries(
  session: Session,
  desk: AlertDesk,
  machineIds: readonly string[],
): Promise<Map<string, DeskEntry>> {
  const book = await desk.book(session);
  const { rows } = await session.query({
    name: 'read-alert-versions',
    text: 'SELECT machine_id, version FROM alert_state WHERE machine_id = ANY($1::text[])',
    values: [machineIds],
  });
  const versions = new Map(rows.map((row) => [row.machine_id as string, row.version as number]));
  const entries = new Map<string, DeskEntry>();
  const stale: string[] = [];
  for (const machineId of machineIds) {
    const known = desk.known(machineId);
    if (known === null || known.version !== (versions.get(machineId) ?? 0)) stale.push(machineId);
    else entries.set(machineId, inForce(known, desk, book));
  }
  if (stale.length > 0) await readStored(session, { desk, book, machineIds: stale }, entries);
  return entries;
}

/** Under the rules that are in force now. */
function inForce(entry: DeskEntry, desk: AlertDesk, book: RuleBook): DeskEntry {
  return entry.rules.book === book ? entry : { ...entry, rules: desk.rulesFor(book, entry.rules.place) };
}

async function readStored(
  session: Session,
  { desk, book, machineIds }: { desk: AlertDesk; book: RuleBook; machineIds: readonly string[] },
  entries: Map<string, DeskEntry>,
): Promise<void> {
  const placeReadMs = desk.config.now();
  // By the index for each machine: what is open in the fleet may be much more.
  const { rows } = await session.query({
    name: 'read-alert-states',
    text: `SELECT m.machine_id, m.fleet_id, m.profile, coalesce(s.version, 0) AS version, s.body
      FROM machine m LEFT JOIN LATERAL
        (SELECT version, body FROM alert_state a WHERE a.machine_id = m.machine_id LIMIT 1) s ON true
      WHERE m.machine_id = ANY($1::text[])`,
    values: [machineIds],
  });
  for (const { machine_id: machineId, fleet_id: fleetId, profile, version, body } of rows) {
    const place: MachinePlace = { machineId, fleetId, profile };
    const state = body ?? initialAlertingState(machineId);
    entries.set(machineId, { version, state, rules: desk.rulesFor(book, place), placeReadMs });
  }
}

async function recall(
  session: Session,
  asked: readonly { machineId: string; recall: Recall }[],
): Promise<Map<string, Alert[]>> {
  const findingIds = asked.flatMap((one) => one.recall.findingIds);
  const episodeIds = asked.flatMap((one) => one.recall.episodeIds);
  const byMachine = new Map<string, Alert[]>();
  if (findingIds.length + episodeIds.length === 0) return byMachine;
  const { rows } = await session.query({
    name: 'recall-alerts',
    text: `SELECT body FROM alert WHERE finding_id = ANY($1::text[])
      UNION ALL SELECT body FROM alert
        WHERE episode_id = ANY($2::text[]) AND (finding_id IS NULL OR NOT finding_id = ANY($1::text[]))`,
    values: [findingIds, episodeIds],
  });
  for (const { body } of rows as { body: Alert }[]) {
    byMachine.set(body.machineId, [...(byMachine.get(body.machineId) ?? []), body]);
  }
  return byMachine;
}

/** What has to be written of a fold. */
export function foldedOf(
  entry: DeskEntry,
  folded: FoldedMachine['folded'],
  at: { nowMs: number; seenMs: number | null },
): FoldedMachine {
  const isStateChanged = folded.state !== entry.state;
  return {
    machineId: entry.rules.place.machineId,
    folded,
    version: entry.version + (isStateChanged ? 1 : 0),
    isStateChanged,
    nextDueMs: nextDueMs(entry.rules, folded.state, at),
  };
}

function draftOf(entries: ReadonlyMap<string, DeskEntry>, machines: readonly FoldedMachine[]): AlertDraft {
  return {
    entries: machines.map(({ machineId, folded, version }) => {
      const entry = entries.get(machineId) as DeskEntry;
      return [machineId, version === entry.version ? entry : { ...entry, version, state: folded.state }] as const;
    }),
    events: machines.flatMap(({ folded }) => folded.events),
  };
}
