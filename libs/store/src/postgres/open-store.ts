/** The store on PostgreSQL. */

import type { PoolConfig } from 'pg';
import type { CursorMove, MachineChange, Store } from '../store.js';
import { archiveSamples } from './archive-samples.js';
import { claim, moveCursor } from './cursors.js';
import { type Database, openDatabase } from './database.js';
import { countFindings, findingIdsSince, listFindings, writeFindings } from './findings.js';
import { getMachine, listMachines, loadProfile, putMachine, writeStanding } from './machines.js';
import { migrate } from './migrate.js';
import { readSamples } from './read-samples.js';
import { listRows, writeRows } from './residency-rows.js';
import { loadSnapshot, loadSnapshotBefore, writeKeptSnapshots, writeStates } from './snapshots.js';

/**
 * Opens the store on a server, the embedded one or any other, and brings its tables up to date.
 *
 * Errors: OperatingError `store-unavailable` (retriable), `store-refused`, `store-too-new`, `store-step-changed`.
 */
export async function openStore(config: PoolConfig): Promise<Store> {
  const database = openDatabase(config);
  try {
    await migrate(database);
  } catch (error) {
    await database.close();
    throw error;
  }
  return {
    putMachine: (machineId, profile) => putMachine(database, machineId, profile),
    claim: (source, partition) => claim(database, source, partition),
    commit: (changes, cursor) => commit(database, changes, cursor),
    loadProfile: (machineId) => loadProfile(database, machineId),
    loadSnapshot: (machineId) => loadSnapshot(database, machineId),
    loadSnapshotBefore: (machineId, atMs) => loadSnapshotBefore(database, machineId, atMs),
    readSamples: (range) => readSamples(database, range),
    listMachines: (page) => listMachines(database, page),
    getMachine: (machineId) => getMachine(database, machineId),
    listFindings: (page) => listFindings(database, page),
    findingIdsSince: (machineId, atMs) => findingIdsSince(database, machineId, atMs),
    listRows: (machineIds, fromMs, toMs) => listRows(database, machineIds, { fromMs, toMs }),
    countFindings: (ranges) => countFindings(database, ranges),
    ping: async () => {
      await database.query({ text: 'SELECT 1' });
    },
    close: () => database.close(),
  };
}

async function commit(database: Database, changes: readonly MachineChange[], cursor: CursorMove | null): Promise<void> {
  const ordered = inOrderOfId(changes);
  await database.inTransaction(async (session) => {
    // First, so that a writer without the epoch waits for, and then writes, nothing.
    if (cursor !== null) await moveCursor(session, cursor);
    if (ordered.length === 0) return;
    await writeStanding(session, ordered);
    await archiveSamples(session, ordered);
    await writeFindings(session, ordered);
    await writeRows(session, ordered);
    await writeStates(session, ordered);
    await writeKeptSnapshots(session, ordered);
  });
}

function inOrderOfId(changes: readonly MachineChange[]): MachineChange[] {
  const ordered = [...changes].sort((a, b) => (a.machineId < b.machineId ? -1 : 1));
  for (let i = 1; i < ordered.length; i++) {
    const { machineId } = ordered[i] as MachineChange;
    if (machineId === ordered[i - 1]?.machineId) throw new Error(`two changes of machine ${machineId} in one commit`);
  }
  return ordered;
}
