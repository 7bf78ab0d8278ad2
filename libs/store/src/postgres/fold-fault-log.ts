/** Folding reports into episodes, in the transaction that brings them: any order of arrival ends in the same log. */

import {
  type FaultEpisode,
  type FaultInput,
  type FaultLogState,
  foldedToMs,
  foldFaults,
  initialFaultLog,
  plausibleTimesMs,
  refoldFaults,
  refoldFromMs,
  withdrawnEpisodeIds,
} from '@warmbrick/analysis';
import type { Session } from './database.js';
import { deleteEpisodes, episodesSince, writeEpisodes } from './fault-episodes.js';
import { readInputs } from './fault-inputs.js';

const dayMs = 86_400_000;
/** Age against the newest at which only the last snapshot of a month is kept. Source: as for the analyser's states. */
const dailyMs = 62 * dayMs;
/** Stands for the time before every input. */
const beforeAllMs = -1;

/**
 * Folds new inputs of one machine, whose row is locked. What is later than all before is folded on; anything else takes the
 * log back to the snapshot before it and folds again from what is stored, which has to hold the new inputs already.
 * Returns from when on the log changed; null when it says the same as before.
 */
export async function foldFaultLog(
  session: Session,
  machineId: string,
  inputs: readonly FaultInput[],
): Promise<number | null> {
  const usable = inputs.filter(({ timeMs }) => timeMs >= plausibleTimesMs.from && timeMs <= plausibleTimesMs.to);
  if (usable.length === 0) return null;
  const state = await loadState(session, machineId);
  const firstMs = Math.min(...usable.map(({ timeMs }) => timeMs));
  if (refoldFromMs(state, usable) !== null) return refold(session, machineId, firstMs);
  // Controllers may be behind each other: a snapshot at or after the first of these is without it.
  await voidSnapshots(session, machineId, firstMs - 1);
  const folding = { session, machineId, state, isFirst: false };
  const episodes = await foldOn(folding, usable);
  await saveState(session, machineId, folding.state);
  return writeEpisodes(session, episodes);
}

interface Folding {
  readonly session: Session;
  readonly machineId: string;
  state: FaultLogState;
  /** Whether the next fold is the first after going back to a snapshot. */
  isFirst: boolean;
}

/** Folds inputs day by day, keeping the state at the end of each day. */
async function foldOn(folding: Folding, inputs: readonly FaultInput[]): Promise<FaultEpisode[]> {
  const byId = new Map<string, FaultEpisode>();
  for (const ofDay of byDay(inputs)) {
    await keepSnapshot(folding, (ofDay[0] as FaultInput).timeMs);
    const folded = folding.isFirst ? refoldFaults(folding.state, ofDay) : foldFaults(folding.state, ofDay);
    folding.isFirst = false;
    folding.state = folded.state;
    for (const episode of folded.episodes) byId.set(episode.id, episode);
  }
  return [...byId.values()];
}

function byDay(inputs: readonly FaultInput[]): FaultInput[][] {
  const days = new Map<number, FaultInput[]>();
  for (const input of inputs) {
    const day = Math.floor(input.timeMs / dayMs);
    const known = days.get(day);
    if (known === undefined) days.set(day, [input]);
    else known.push(input);
  }
  return [...days].sort(([a], [b]) => a - b).map(([, ofDay]) => ofDay);
}

async function refold(session: Session, machineId: string, fromMs: number): Promise<number | null> {
  const base = await snapshotBefore(session, machineId, fromMs);
  const baseMs = base?.atMs ?? beforeAllMs;
  await voidSnapshots(session, machineId, baseMs);
  const folding = { session, machineId, state: base?.state ?? initialFaultLog, isFirst: true };
  const made = new Map<string, FaultEpisode>();
  for await (const slice of readInputs(session, machineId, baseMs)) {
    for (const episode of await foldOn(folding, slice)) made.set(episode.id, episode);
  }
  const stored = await episodesSince(session, machineId, baseMs);
  const gone = withdrawnEpisodeIds(stored, [...made.values()]);
  await deleteEpisodes(session, machineId, gone);
  const changedFromMs = await writeEpisodes(session, [...made.values()]);
  await saveState(session, machineId, folding.state);
  const isGone = new Set(gone);
  const starts = stored.filter(({ id }) => isGone.has(id)).map(({ started }) => started);
  if (changedFromMs !== null) starts.push(changedFromMs);
  return starts.length === 0 ? null : Math.min(...starts);
}

async function loadState(session: Session, machineId: string): Promise<FaultLogState> {
  const text = 'SELECT body FROM fault_log_state WHERE machine_id = $1';
  const { rows } = await session.query({ name: 'load-fault-log', text, values: [machineId] });
  return (rows[0]?.body as FaultLogState | undefined) ?? initialFaultLog;
}

async function saveState(session: Session, machineId: string, state: FaultLogState): Promise<void> {
  await session.query({
    name: 'save-fault-log',
    text: `INSERT INTO fault_log_state (machine_id, body) VALUES ($1, $2)
      ON CONFLICT (machine_id) DO UPDATE SET body = excluded.body`,
    values: [machineId, JSON.stringify(state)],
  });
}

/** Keeps the state before the first input of another day, and thins out the old ones. */
async function keepSnapshot({ session, machineId, state }: Folding, nextMs: number): Promise<void> {
  const atMs = foldedToMs(state);
  if (atMs === null || Math.floor(atMs / dayMs) >= Math.floor(nextMs / dayMs)) return;
  const month = (timeMs: number) => new Date(timeMs).toISOString().slice(0, 7);
  await session.query({
    name: 'keep-fault-snapshot',
    text: `INSERT INTO fault_log_snapshot (machine_id, at, is_month_end, body) VALUES ($1, $2, $3, $4)
      ON CONFLICT (machine_id, at) DO UPDATE SET is_month_end = excluded.is_month_end, body = excluded.body`,
    values: [machineId, atMs, month(atMs) !== month(nextMs), JSON.stringify(state)],
  });
  await session.query({
    name: 'thin-fault-snapshots',
    text: 'DELETE FROM fault_log_snapshot WHERE machine_id = $1 AND at < $2 AND NOT is_month_end',
    values: [machineId, atMs - dailyMs],
  });
}

async function voidSnapshots(session: Session, machineId: string, afterMs: number): Promise<void> {
  await session.query({
    name: 'void-fault-snapshots',
    text: 'DELETE FROM fault_log_snapshot WHERE machine_id = $1 AND at > $2',
    values: [machineId, afterMs],
  });
}

/** The newest snapshot that has folded nothing at or after a time. */
async function snapshotBefore(
  session: Session,
  machineId: string,
  beforeMs: number,
): Promise<{ atMs: number; state: FaultLogState } | null> {
  const { rows } = await session.query({
    name: 'fault-snapshot-before',
    text: 'SELECT at, body FROM fault_log_snapshot WHERE machine_id = $1 AND at < $2 ORDER BY at DESC LIMIT 1',
    values: [machineId, beforeMs],
  });
  return rows[0] === undefined ? null : { atMs: rows[0].at, state: rows[0].body };
}
