/** The store on PostgreSQL. */

import type { PoolConfig } from 'pg';
import type { Store } from '../store.js';
import { compact } from './archive-samples.js';
import { commit } from './commit.js';
import { claim } from './cursors.js';
import { openDatabase } from './database.js';
import { deliveryPart } from './delivery-part.js';
import { listFaults } from './faults.js';
import { countFindings, findingIdsSince, listFindings } from './findings.js';
import { getMachine, listMachines, loadProfile, putMachine } from './machines.js';
import { migrate } from './migrate.js';
import { failOutbox, settleOutbox, takeOutbox } from './outbox.js';
import { readSamples } from './read-samples.js';
import { listRejects } from './rejects.js';
import { listRows } from './residency-rows.js';
import { retain } from './retain.js';
import { createSampleMonths } from './sample-months.js';
import { loadSnapshot, loadSnapshotBefore } from './snapshots.js';

export interface StoreConfig extends PoolConfig {
  /**
   * Whether commits write messages about findings into the outbox. Without somebody who sends them on, as in the
   * embedded default, they would only pile up. Default false.
   */
  readonly outbox?: boolean | undefined;
}

/**
 * Opens the store on a server, the embedded one or any other, and brings its tables up to date.
 *
 * Errors: OperatingError `store-unavailable` (retriable), `store-refused`, `store-too-new`, `store-step-changed`.
 */
export async function openStore({ outbox = false, ...config }: StoreConfig): Promise<Store> {
  const database = openDatabase(config);
  try {
    await migrate(database);
  } catch (error) {
    await database.close();
    throw error;
  }
  const months = createSampleMonths(database);
  const committing = { database, months, hasOutbox: outbox };
  return {
    putMachine: (machineId, profile) => putMachine(database, machineId, profile),
    claim: (source, partition) => claim(database, source, partition),
    commit: (changes, extras) => commit(committing, changes, extras ?? {}),
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
    listFaults: (page) => listFaults(database, page),
    listRejects: (page) => listRejects(database, page),
    takeOutbox: (lease) => takeOutbox(database, lease),
    settleOutbox: (ids) => settleOutbox(database, ids),
    failOutbox: (ids, retryAtMs) => failOutbox(database, ids, retryAtMs),
    retain: (retention, nowMs) => retain({ database, months }, retention, nowMs),
    compact: (beforeMs, limit) => compact(database, beforeMs, limit),
    ...deliveryPart(database),
    ping: async () => {
      await database.query({ text: 'SELECT 1' });
    },
    close: () => database.close(),
  };
}
