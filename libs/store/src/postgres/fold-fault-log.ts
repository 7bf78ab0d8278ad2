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
import {
  faultLogBefore,
  type KeptFaultLog,
  keepFaultSnapshots,
  loadFaultLogs,
  saveFaultLogs,
  voidFaultSnapshots,
} from './fault-log-states.js';
import type { Mark } from './inquiry-due.js';

const dayMs = 86_400_000;
/** Stands for the time before every input. */
const beforeAllMs = -1;

/** The log of one machine while it is folded. */
interface Folding {
  readonly machineId: string;
  state: FaultLogState;
  /** Whether the next fold is the first after going back to a snapshot. */
  isFirst: boolean;
  readonly episodes: Map<string, FaultEpisode>;
  /** Where the log stood at the end of each day that it went past. */
  readonly kept: KeptFaultLog[];
}

/**
 * Folds new inputs of machines whose rows are locked. What is later than all before is folded on; anything else takes the log of
 * that machine back to the snapshot before it and folds again from what is stored, which has to hold the new inputs already.
 *
 * Returns from when on the logs changed, machine by machine; one that says the same as before is left out. The number of questions
 * to the database does not hang on the number of machines, as long as nothing is late.
 */
export async function foldFaultLogs(
  session: Session,
  arrived: ReadonlyMap<string, readonly FaultInput[]>,
): Promise<Mark[]> {
  const usable = new Map([...arrived].map(([id, inputs]) => [id, inputs.filter(isPlausible)] as const));
  const machineIds = [...usable].filter(([, inputs]) => inputs.length > 0).map(([id]) => id);
  if (machineIds.length === 0) return [];
  const states = await loadFaultLogs(session, machineIds);
  const foldings: Folding[] = [];
  const onward: { machineId: string; afterMs: number }[] = [];
  const unmade: Mark[] = [];
  for (const machineId of machineIds) {
    const inputs = usable.get(machineId) ?? [];
    const state = states.get(machineId) ?? initialFaultLog;
    const firstMs = Math.min(...inputs.map(({ timeMs }) => timeMs));
    if (refoldFromMs(state, inputs) === null) {
      // Controllers may be behind each other: a snapshot at or after the first of these is without it.
      onward.push({ machineId, afterMs: firstMs - 1 });
      const folding = openFolding(machineId, state, false);
      foldOn(folding, inputs);
      foldings.push(folding);
    } else {
      const refolded = await refold(session, machineId, firstMs);
      foldings.push(refolded.folding);
      if (refolded.unmadeFromMs !== null) unmade.push({ machineId, fromMs: refolded.unmadeFromMs });
    }
  }
  await voidFaultSnapshots(session, onward);
  await keepFaultSnapshots(
    session,
    foldings.flatMap(({ kept }) => kept),
  );
  await saveFaultLogs(session, foldings);
  const made = await writeEpisodes(
    session,
    foldings.flatMap(({ episodes }) => [...episodes.values()]),
  );
  return [...made, ...unmade];
}

function isPlausible({ timeMs }: FaultInput): boolean {
  return timeMs >= plausibleTimesMs.from && timeMs <= plausibleTimesMs.to;
}

function openFolding(machineId: string, state: FaultLogState, isFirst: boolean): Folding {
  return { machineId, state, isFirst, episodes: new Map(), kept: [] };
}

/** Folds inputs day by day, keeping the state before the first input of another day. */
function foldOn(folding: Folding, inputs: readonly FaultInput[]): void {
  for (const ofDay of byDay(inputs)) {
    keepDay(folding, (ofDay[0] as FaultInput).timeMs);
    const folded = folding.isFirst ? refoldFaults(folding.state, ofDay) : foldFaults(folding.state, ofDay);
    folding.isFirst = false;
    folding.state = folded.state;
    for (const episode of folded.episodes) folding.episodes.set(episode.id, episode);
  }
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

function keepDay({ machineId, state, kept }: Folding, nextMs: number): void {
  const atMs = foldedToMs(state);
  if (atMs === null || Math.floor(atMs / dayMs) >= Math.floor(nextMs / dayMs)) return;
  const month = (timeMs: number) => new Date(timeMs).toISOString().slice(0, 7);
  kept.push({ machineId, atMs, isMonthEnd: month(atMs) !== month(nextMs), state });
}

/** Folds one machine's log again from the snapshot before a time. */
async function refold(
  session: Session,
  machineId: string,
  fromMs: number,
): Promise<{ folding: Folding; unmadeFromMs: number | null }> {
  const base = await faultLogBefore(session, machineId, fromMs);
  const baseMs = base?.atMs ?? beforeAllMs;
  await voidFaultSnapshots(session, [{ machineId, afterMs: baseMs }]);
  const folding = openFolding(machineId, base?.state ?? initialFaultLog, true);
  for await (const slice of readInputs(session, machineId, baseMs)) foldOn(folding, slice);
  const stored = await episodesSince(session, machineId, baseMs);
  const gone = new Set(withdrawnEpisodeIds(stored, [...folding.episodes.values()]));
  await deleteEpisodes(session, machineId, [...gone]);
  const starts = stored.filter(({ id }) => gone.has(id)).map(({ started }) => started);
  return { folding, unmadeFromMs: starts.length === 0 ? null : Math.min(...starts) };
}
