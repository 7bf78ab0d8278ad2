/** How questions about service, batches of DEF and inspections are cut. */

import type { Store } from '../store.js';
import { absentMachine, refuseWhole, type Sight } from './sight.js';

/** The rules. */
export function serviceRules({ inner, fleets, mine, isMine }: Sight): Partial<Store> {
  const ownBatches = async () => (await inner.listDefBatches()).filter(({ fleetId }) => fleets.includes(fleetId));
  return {
    addServiceRecords: async (records) => {
      const own = await mine([...new Set(records.map(({ machineId }) => machineId))]);
      return inner.addServiceRecords(records.filter(({ machineId }) => own.has(machineId)));
    },
    deleteServiceRecord: async (machineId, id) => (await isMine(machineId)) && inner.deleteServiceRecord(machineId, id),
    listServiceRecords: async (machineId) => ((await isMine(machineId)) ? inner.listServiceRecords(machineId) : []),
    servicedMachines: async () => [...(await mine(await inner.servicedMachines()))],
    listDefBatches: ownBatches,
    putDefBatch: async (batch) =>
      fleets.includes(batch.fleetId) ? inner.putDefBatch(batch) : refuseWhole('putDefBatch'),
    deleteDefBatch: async (id) => (await ownBatches()).some((it) => it.id === id) && (await inner.deleteDefBatch(id)),
    addInspection: async (inspection) => {
      if (!(await isMine(inspection.machineId))) throw absentMachine(inspection.machineId);
      return inner.addInspection(inspection);
    },
    listInspections: async (machineId, fromMs, toMs) =>
      (await isMine(machineId)) ? inner.listInspections(machineId, fromMs, toMs) : [],
  };
}
