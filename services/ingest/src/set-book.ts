/** Which threshold sets judge which machine when, as promoted; read again when the list of promotions has grown. */

import type { ScheduledSet, ThresholdSet } from '@warmbrick/analysis';
import type { MachineProfile } from '@warmbrick/signals';
import type { Store, StoredPromotion } from '@warmbrick/store';
import { concernsMachine, setSchedule } from '@warmbrick/tuning';

export interface SetBook {
  /** Number of the last promotion, as known at most `freshMs` ago. */
  lastPromotion(): Promise<number>;
  /** The machine's sets by time; and the promotion that its past still has to be analysed anew for, or null. */
  scheduleOf(
    machineId: string,
    usual: { readonly profile: MachineProfile; readonly thresholds: ThresholdSet },
  ): Promise<{ readonly schedule: readonly ScheduledSet[]; readonly recomputeFor: number | null }>;
}

/**
 * A promotion that leaves the past alone begins two minutes after it was made; members look twice in that time.
 * Source: decision 3 of libs/analysis.
 */
const freshMs = 30_000;

interface Known {
  readonly atMs: number;
  readonly last: number;
  readonly promotions: readonly StoredPromotion[];
  readonly sets: ReadonlyMap<string, ThresholdSet>;
}

const books = new WeakMap<Store, SetBook>();

/** The book of a store; one for all that ask. */
export function setBookOf(store: Store, now: () => number = Date.now): SetBook {
  const known = books.get(store) ?? createSetBook(store, now);
  books.set(store, known);
  return known;
}

function createSetBook(store: Store, now: () => number): SetBook {
  let known: Known | null = null;
  const current = async (): Promise<Known> => {
    if (known !== null && now() - known.atMs < freshMs) return known;
    const last = await store.lastPromotion();
    if (known !== null && known.last === last) known = { ...known, atMs: now() };
    else known = { atMs: now(), last, ...(await readBook(store, last)) };
    return known;
  };
  return {
    lastPromotion: async () => (await current()).last,
    async scheduleOf(machineId, { profile, thresholds }) {
      const { promotions, sets } = await current();
      if (promotions.length === 0) return { schedule: [], recomputeFor: null };
      const fleetId = (await store.fleetsOf([machineId])).get(machineId) ?? 'main';
      const machine = { machineId, machineClass: profile.machineClass, fleetId };
      const schedule = setSchedule(promotions, machine, { builtIn: thresholds, byVersion: sets });
      const due = promotions.findLast((one) => one.isRecomputed && concernsMachine(one, machine))?.id ?? 0;
      const isDue = due > 0 && (await store.recomputedUpTo(machineId)) < due;
      return { schedule, recomputeFor: isDue ? due : null };
    },
  };
}

async function readBook(store: Store, last: number): Promise<Pick<Known, 'promotions' | 'sets'>> {
  if (last === 0) return { promotions: [], sets: new Map() };
  const promotions = await store.listPromotions();
  const sets = new Map<string, ThresholdSet>();
  for (const version of new Set(promotions.map((one) => one.version))) {
    const stored = version === null ? null : await store.getThresholdSet(version);
    if (stored !== null) sets.set(stored.set.version, stored.set);
  }
  return { promotions, sets };
}
