/** How questions about machines are cut. */

import type { Store } from '../store.js';
import { absentMachine, emptyPage, narrowed, type Sight } from './sight.js';

/** The rules. A machine of another fleet is answered as one that there is not. */
export function machineRules({ inner, fleets, mine, isMine }: Sight): Partial<Store> {
  return {
    loadProfile: async (machineId) => ((await isMine(machineId)) ? inner.loadProfile(machineId) : null),
    putMachine: async (machineId, profile) => {
      const isWithin = profile.fleet === undefined || fleets.includes(profile.fleet);
      if (!(await isMine(machineId)) || !isWithin) throw absentMachine(machineId);
      await inner.putMachine(machineId, profile);
    },
    readSamples: async (range) => ((await isMine(range.machineId)) ? inner.readSamples(range) : []),
    listMachines: (page) => inner.listMachines({ ...page, fleets: narrowed(page.fleets, fleets) }),
    getMachine: async (machineId) => ((await isMine(machineId)) ? inner.getMachine(machineId) : null),
    listFindings: async (page) => {
      if (page.machineId !== undefined && !(await isMine(page.machineId))) return emptyPage;
      return inner.listFindings({ ...page, fleets: narrowed(page.fleets, fleets) });
    },
    listRows: async (machineIds, fromMs, toMs) => inner.listRows([...(await mine(machineIds))], fromMs, toMs),
    countFindings: async (ranges) => {
      const seen = await mine(ranges.map(({ machineId }) => machineId));
      return inner.countFindings(ranges.filter(({ machineId }) => seen.has(machineId)));
    },
    fleetsOf: async (machineIds) => inner.fleetsOf([...(await mine(machineIds))]),
    moveMachine: async (machineId, fleetId) => {
      if (!(await isMine(machineId)) || !fleets.includes(fleetId)) throw absentMachine(machineId);
      await inner.moveMachine(machineId, fleetId);
    },
  };
}
