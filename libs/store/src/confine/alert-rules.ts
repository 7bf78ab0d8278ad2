/** How questions about alerts are cut: alerts are of a machine, rules and windows of a fleet. */

import type { Store } from '../store.js';
import { narrowed, refuseWhole, type Sight } from './sight.js';

/** The rules. */
export function alertRules({ inner, fleets, isMine }: Sight): Partial<Store> {
  const getAlert: Store['getAlert'] = async (episodeId) => {
    const found = await inner.getAlert(episodeId);
    return found !== null && (await isMine(found.alert.machineId)) ? found : null;
  };
  const windows = async (endAfterMs: number) =>
    (await inner.listMaintenanceWindows(endAfterMs)).filter(({ fleetId }) => fleets.includes(fleetId));
  return {
    listAlerts: (page) => inner.listAlerts({ ...page, fleets: narrowed(page.fleets, fleets) }),
    getAlert,
    actOnAlert: async (episodeId, action, by) =>
      (await getAlert(episodeId)) === null ? { outcome: 'unknown-alert' } : inner.actOnAlert(episodeId, action, by),
    listRules: async (asked) => inner.listRules(narrowed(asked === 'all' ? undefined : asked, fleets)),
    putRule: async (change) => (fleets.includes(change.fleetId) ? inner.putRule(change) : refuseWhole('putRule')),
    deleteRule: async (fleetId, ruleId, nowMs) =>
      fleets.includes(fleetId) && (await inner.deleteRule(fleetId, ruleId, nowMs)),
    listMaintenanceWindows: windows,
    addMaintenanceWindow: async (window, nowMs) =>
      fleets.includes(window.fleetId) && (window.machineId === null || (await isMine(window.machineId)))
        ? inner.addMaintenanceWindow(window, nowMs)
        : refuseWhole('addMaintenanceWindow'),
    deleteMaintenanceWindow: async (id, nowMs) =>
      (await windows(0)).some((window) => window.id === id) && (await inner.deleteMaintenanceWindow(id, nowMs)),
    machineHistories: async (range) =>
      inner.machineHistories({
        ...range,
        fleetIds: narrowed(range.fleetIds === 'all' ? undefined : range.fleetIds, fleets),
      }),
  };
}
