/** The part of the store that knows fleets, keys, the audit log and answers to repeat. */

import type { AccessStore } from '../access-store.js';
import { addKey, getKey, listKeys, noteKeyUse, revokeKey, rotateKey } from './api-keys.js';
import { appendAudit, checkAudit, listAudit } from './audit.js';
import type { Database } from './database.js';
import { addFleet, fleetsOf, listFleets, moveMachine, renameFleet } from './fleets.js';
import { beginRepeatable, endRepeatable } from './repeatable.js';

/** Binds the part to a database. */
export function accessPart(database: Database): AccessStore {
  return {
    listFleets: () => listFleets(database),
    addFleet: (fleet) => addFleet(database, fleet),
    renameFleet: (fleetId, name) => renameFleet(database, fleetId, name),
    fleetsOf: (machineIds) => fleetsOf(database, machineIds),
    moveMachine: (machineId, fleetId) => moveMachine(database, machineId, fleetId),
    listKeys: () => listKeys(database),
    getKey: (keyId) => getKey(database, keyId),
    addKey: (key, secret) => addKey(database, key, secret),
    rotateKey: (keyId, secret, overlapMs) => rotateKey(database, { keyId, secret, overlapMs }),
    revokeKey: (keyId) => revokeKey(database, keyId),
    noteKeyUse: (keyId) => noteKeyUse(database, keyId),
    appendAudit: (entry) => appendAudit(database, entry),
    listAudit: (page) => listAudit(database, page),
    checkAudit: () => checkAudit(database),
    beginRepeatable: (request) => beginRepeatable(database, request),
    endRepeatable: (caller, key, answer) => endRepeatable(database, { caller, key }, answer),
  };
}
