/** How questions about faults and derates are cut. */

import type { Store } from '../store.js';
import { absentMachine, emptyPage, refuseWhole, type Sight } from './sight.js';

/** The rules. */
export function faultRules({ inner, fleets, mine, isMine }: Sight): Partial<Store> {
  const getDerate: Store['getDerate'] = async (derateId) => {
    const found = await inner.getDerate(derateId);
    return found !== null && (await isMine(found.derate.machineId)) ? found : null;
  };
  const ownMachine = async (machineId: string) => {
    if (!(await isMine(machineId))) throw absentMachine(machineId);
  };
  return {
    listFaults: async (page) => ((await isMine(page.machineId)) ? inner.listFaults(page) : emptyPage),
    listFaultLog: async (page) => ((await isMine(page.machineId)) ? inner.listFaultLog(page) : emptyPage),
    listFaultEpisodes: async (range) => ((await isMine(range.machineId)) ? inner.listFaultEpisodes(range) : []),
    listFaultEntries: async (range) => ((await isMine(range.machineId)) ? inner.listFaultEntries(range) : []),
    machinesWithActiveFaults: async () => [...(await mine(await inner.machinesWithActiveFaults()))],
    addFaultEntry: async (entry) => {
      await ownMachine(entry.notice.machineId);
      return inner.addFaultEntry(entry);
    },
    machineFaultTexts: async (machineId) => {
      await ownMachine(machineId);
      return inner.machineFaultTexts(machineId);
    },
    listFaultTexts: async (fleetId) => (fleets.includes(fleetId) ? inner.listFaultTexts(fleetId) : []),
    putFaultTexts: async (fleetId, put) =>
      fleets.includes(fleetId) ? inner.putFaultTexts(fleetId, put) : refuseWhole('putFaultTexts'),
    listDerates: async (page) => ((await isMine(page.machineId)) ? inner.listDerates(page) : emptyPage),
    getDerate,
    listInquiries: async (derateId) => ((await getDerate(derateId)) === null ? [] : inner.listInquiries(derateId)),
    requestInquiry: async (machineId) => {
      await ownMachine(machineId);
      await inner.requestInquiry(machineId);
    },
  };
}
