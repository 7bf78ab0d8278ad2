/** The threshold sets of a machine by time, as promoted in a store. */

import type { ScheduledSet, ThresholdSet } from '@warmbrick/analysis';
import type { MachineProfile } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import { setSchedule } from '@warmbrick/tuning';

/** Reads promotions and their sets. `builtIn` judges before the first of them. Errors: those of the store. */
export async function storedSchedule(
  store: Store,
  machine: { readonly machineId: string; readonly profile: MachineProfile },
  builtIn: ThresholdSet,
): Promise<ScheduledSet[]> {
  const promotions = await store.listPromotions();
  if (promotions.length === 0) return [];
  const byVersion = new Map<string, ThresholdSet>();
  for (const version of new Set(promotions.map((one) => one.version))) {
    const stored = version === null ? null : await store.getThresholdSet(version);
    if (stored !== null) byVersion.set(stored.set.version, stored.set);
  }
  const { machineId, profile } = machine;
  const fleetId = (await store.fleetsOf([machineId])).get(machineId) ?? 'main';
  return setSchedule(promotions, { machineId, machineClass: profile.machineClass, fleetId }, { builtIn, byVersion });
}
