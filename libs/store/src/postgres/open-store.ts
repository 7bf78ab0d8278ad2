/** The store on PostgreSQL. */

import type { PoolConfig } from 'pg';
import type { AlertingConfig } from '../alert-store.js';
import { confineStore } from '../confine/confine-store.js';
import type { Store } from '../store.js';
import { accessPart } from './access-part.js';
import { createAlertDesk } from './alert-desk.js';
import { alertPart } from './alert-part.js';
import { compact } from './archive-samples.js';
import { type Committing, commit } from './commit.js';
import { claim } from './cursors.js';
import { type Database, openDatabase } from './database.js';
import { deliveryPart } from './delivery-part.js';
import { faultPart } from './fault-part.js';
import { listFaults } from './faults.js';
import { countFindings, findingIdsSince, listFindings } from './findings.js';
import { raiseWalls, type Walls } from './fleet-wall.js';
import { getMachine, listMachines, loadProfile, machineClocks, putMachine } from './machines.js';
import { migrate } from './migrate.js';
import { failOutbox, settleOutbox, takeOutbox } from './outbox.js';
import { readSamples } from './read-samples.js';
import { listRejects } from './rejects.js';
import { listRows } from './residency-rows.js';
import { retain } from './retain.js';
import { createSampleMonths } from './sample-months.js';
import { scorePart } from './score-days.js';
import { servicePart } from './service-part.js';
import { loadSnapshot, loadSnapshotBefore } from './snapshots.js';
import { tuningPart } from './tuning-part.js';
import { withinFleets } from './within-fleets.js';

export interface StoreConfig extends PoolConfig {
  /**
   * Whether commits write messages about findings into the outbox. Without somebody who sends them on, as in the
   * embedded default, they would only pile up. Default false.
   */
  readonly outbox?: boolean | undefined;
  /** Whether commits fold alerts, and how. Default: they do not. */
  readonly alerting?: AlertingConfig | undefined;
}

/**
 * Opens the store on a server, the embedded one or any other, and brings its tables up to date.
 *
 * Errors: OperatingError `store-unavailable` (retriable), `store-refused`, `store-too-new`, `store-step-changed`.
 */
export async function openStore({ outbox = false, alerting, ...config }: StoreConfig): Promise<Store> {
  const database = openDatabase(config);
  let walls: Walls;
  try {
    await migrate(database);
    walls = await database.inTransaction(raiseWalls);
  } catch (error) {
    await database.close();
    throw error;
  }
  const shared = {
    months: createSampleMonths(database),
    hasOutbox: outbox,
    desk: alerting === undefined ? null : createAlertDesk(alerting),
    connection: config,
  };
  const whole: Store = {
    ...storeOn(database, shared),
    forFleets: (fleets) => (fleets === 'all' ? whole : confined(fleets)),
  };
  const confined = (fleets: readonly string[]) => {
    const inner = storeOn(withinFleets(database, walls, fleets), shared);
    return confineStore({ inner: { ...inner, forFleets: whole.forFleets }, whole, fleets });
  };
  return whole;
}

/** Binds every question to a database. */
function storeOn(
  database: Database,
  shared: Omit<Committing, 'database'> & { readonly connection: PoolConfig },
): Omit<Store, 'forFleets'> {
  const { months } = shared;
  const committing = { database, ...shared };
  return {
    ...accessPart(database),
    ...scorePart(database),
    putMachine: (machineId, profile) => putMachine(database, machineId, profile),
    claim: (source, partition) => claim(database, source, partition),
    commit: (changes, extras) => commit(committing, changes, extras ?? {}),
    loadProfile: (machineId) => loadProfile(database, machineId),
    loadSnapshot: (machineId) => loadSnapshot(database, machineId),
    loadSnapshotBefore: (machineId, atMs) => loadSnapshotBefore(database, machineId, atMs),
    readSamples: (range) => readSamples(database, range),
    listMachines: (page) => listMachines(database, page),
    getMachine: (machineId) => getMachine(database, machineId),
    machineClocks: () => machineClocks(database),
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
    ...alertPart(database, shared.desk, shared.connection),
    ...deliveryPart(database),
    ...servicePart(database),
    ...faultPart(database),
    ...tuningPart(database),
    ping: async () => {
      await database.query({ text: 'SELECT 1' });
    },
    close: () => database.close(),
  };
}
