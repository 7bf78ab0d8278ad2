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
  recallOf,
} from '@warmbrick/alerting';
import type { MachineChange } from '../store.js';
import type { AlertDesk, DeskEntry } from './alert-desk.js';
import type { Database, Row, Session } from './database.js';
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

/** The states of machines: those remembered where the version is the same, else as stored. */
async function readEntries(
  session: Session,
  desk: AlertDesk,
  machineIds: readonly string[],
): Promise<Map<string, DeskEntry>> {
  const book = await desk.book(session);
  const nowMs = desk.config.now();
  const known = machineIds.map((machineId) => desk.known(machineId));
  const { rows } = await session.query({
    name: 'read-alert-states',
    text: `SELECT k.machine_id, m.fleet_id, coalesce(s.version, 0) AS version,
        CASE WHEN k.version IS DISTINCT FROM coalesce(s.version, 0) THEN s.body END AS body,
        CASE WHEN k.version IS NULL THEN m.profile END AS profile
      FROM unnest($1::text[], $2::int8[]) AS k(machine_id, version)
      JOIN machine m ON m.machine_id = k.machine_id LEFT JOIN alert_state s ON s.machine_id = k.machine_id`,
    values: [machineIds, known.map((entry) => entry?.version ?? null)],
  });
  const byId = new Map(machineIds.map((machineId, at) => [machineId, known[at] ?? null]));
  return new Map(
    rows.map((row) => {
      const entry = byId.get(row.machine_id) ?? null;
      return [row.machine_id as string, entryOf(row, entry, { desk, book, nowMs })];
    }),
  );
}

function entryOf(
  row: Row,
  known: DeskEntry | null,
  { desk, book, nowMs }: { desk: AlertDesk; book: DeskEntry['rules']['book']; nowMs: number },
): DeskEntry {
  const { machine_id: machineId, fleet_id: fleetId, version } = row;
  const isKnown = known !== null && known.version === version;
  if (isKnown && known.rules.book === book && known.rules.place.fleetId === fleetId) return known;
  const place: MachinePlace = { machineId, fleetId, profile: known?.rules.place.profile ?? row.profile };
  return {
    version,
    state: isKnown ? known.state : (row.body ?? initialAlertingState(machineId)),
    rules: desk.rulesFor(book, place),
    placeReadMs: known?.placeReadMs ?? nowMs,
  };
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
