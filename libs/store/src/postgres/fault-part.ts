/** The part of the store that knows the fault log, derates and inquiries. */

import type { FaultStore } from '../fault-store.js';
import type { Database } from './database.js';
import { getDerate, listDerates, listInquiries, updateDerates } from './derates.js';
import { addFaultEntry, listFaultEntries, listFaultTexts, machineFaultTexts, putFaultTexts } from './fault-entries.js';
import { listFaultEpisodes, listFaultLog, machinesWithActiveFaults } from './fault-episodes.js';
import { markDue, settleDueInquiry, takeDueInquiries } from './inquiry-due.js';

/** Binds the part to a database. */
export function faultPart(database: Database): FaultStore {
  return {
    listFaultLog: (page) => listFaultLog(database, page),
    listFaultEpisodes: (range) => listFaultEpisodes(database, range),
    machinesWithActiveFaults: () => machinesWithActiveFaults(database),
    addFaultEntry: (entry) => addFaultEntry(database, entry),
    listFaultEntries: (range) => listFaultEntries(database, range),
    machineFaultTexts: (machineId) => machineFaultTexts(database, machineId),
    listFaultTexts: (fleetId) => listFaultTexts(database, fleetId),
    putFaultTexts: (fleetId, put) => putFaultTexts(database, fleetId, put),
    listDerates: (page) => listDerates(database, page),
    getDerate: (derateId) => getDerate(database, derateId),
    listInquiries: (derateId) => listInquiries(database, derateId),
    takeDueInquiries: (limit, leaseMs) => takeDueInquiries(database, limit, leaseMs),
    updateDerates: (update) => updateDerates(database, update),
    settleDueInquiry: (due) => settleDueInquiry(database, due),
    maskKey: async () => {
      const { rows } = await database.query({ name: 'report-key', text: 'SELECT key FROM report_key' });
      return rows[0]?.key as string;
    },
    requestInquiry: (machineId) => markDue(database, [{ machineId, fromMs: 0 }]),
  };
}
