/** Which threshold set judges a machine when: from the list of promotions. */

import type { ScheduledSet, ThresholdSet } from '@warmbrick/analysis';

export const promotionScopes = ['all', 'fleet', 'class', 'machine'] as const;
/** What a promotion is about. `name` is a fleet, a class or a machine; null for all. */
export interface PromotionScope {
  readonly kind: (typeof promotionScopes)[number];
  readonly name: string | null;
}

/** An entry of the list of promotions, which is only ever added to. */
export interface SetPromotion {
  /** Rises with each entry. */
  readonly id: number;
  /** null: from then on no set is promoted for this scope; wider scopes count again. */
  readonly version: string | null;
  readonly scope: PromotionScope;
  readonly fromMs: number;
  /** Whether samples before the promotion was made are judged anew. */
  readonly isRecomputed: boolean;
}

export interface PlacedMachine {
  readonly machineId: string;
  readonly machineClass: string;
  readonly fleetId: string;
}

/** Whether a promotion is about a machine. */
export function concernsMachine({ scope }: Pick<SetPromotion, 'scope'>, machine: PlacedMachine): boolean {
  if (scope.kind === 'all') return true;
  if (scope.kind === 'fleet') return scope.name === machine.fleetId;
  return scope.name === (scope.kind === 'class' ? machine.machineClass : machine.machineId);
}

/**
 * The version in force for a machine at a time; null for the built-in set.
 *
 * The narrowest scope counts: machine before class before fleet before all. Within a scope it is the entry with the latest
 * start, and of those that start together the last one made.
 */
export function versionInForce(
  promotions: readonly SetPromotion[],
  machine: PlacedMachine,
  atMs: number,
): string | null {
  for (const kind of [...promotionScopes].reverse()) {
    let found: SetPromotion | null = null;
    for (const one of promotions) {
      if (one.scope.kind !== kind || one.fromMs > atMs || !concernsMachine(one, machine)) continue;
      const isLater = found === null || one.fromMs > found.fromMs || (one.fromMs === found.fromMs && one.id > found.id);
      if (isLater) found = one;
    }
    if (found !== null && found.version !== null) return found.version;
  }
  return null;
}

/**
 * The sets of a machine by time, for its analyzer. Missing: a version that nobody knows any more is passed over, as if it had
 * not been promoted.
 */
export function setSchedule(
  promotions: readonly SetPromotion[],
  machine: PlacedMachine,
  sets: { readonly builtIn: ThresholdSet; readonly byVersion: ReadonlyMap<string, ThresholdSet> },
): ScheduledSet[] {
  const own = promotions.filter(
    (one) => concernsMachine(one, machine) && (one.version === null || sets.byVersion.has(one.version)),
  );
  const times = [...new Set(own.map(({ fromMs }) => fromMs))].sort((a, b) => a - b);
  const schedule: ScheduledSet[] = [];
  for (const fromMs of times) {
    const version = versionInForce(own, machine, fromMs);
    const thresholds = version === null ? sets.builtIn : (sets.byVersion.get(version) ?? sets.builtIn);
    const before = schedule.at(-1)?.thresholds ?? sets.builtIn;
    if (thresholds.version !== before.version) schedule.push({ fromMs, thresholds });
  }
  return schedule;
}

/** The entry that takes a promotion back: the version that held in its scope before, from a time on. */
export function rollbackOf(
  promotions: readonly SetPromotion[],
  undone: SetPromotion,
): { readonly version: string | null; readonly scope: PromotionScope } {
  const sameScope = promotions.filter(
    ({ scope }) => scope.kind === undone.scope.kind && scope.name === undone.scope.name,
  );
  const before = sameScope.filter(({ id }) => id < undone.id).at(-1);
  return { version: before?.version ?? null, scope: undone.scope };
}
