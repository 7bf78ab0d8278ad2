/** A store as callers see it who may see some fleets only: every question is cut to their machines before it is asked. */

import type { Store } from '../store.js';
import { accessRules } from './access-rules.js';
import { alertRules } from './alert-rules.js';
import { deliveryRules } from './delivery-rules.js';
import { faultRules } from './fault-rules.js';
import { machineRules } from './machine-rules.js';
import { scoreRules } from './score-rules.js';
import { serviceRules } from './service-rules.js';
import { narrowed, refuseWhole, type Sight } from './sight.js';
import { tuningRules } from './tuning-rules.js';

/** Methods that concern the whole installation and are never called for somebody who sees a part of it. */
const wholeOnly = [
  'claim',
  'commit',
  'loadSnapshot',
  'loadSnapshotBefore',
  'findingIdsSince',
  'listRejects',
  'tickAlerts',
  'followAlerts',
  'takeOutbox',
  'settleOutbox',
  'failOutbox',
  'retain',
  'compact',
  'appendAudit',
  'checkAudit',
  'noteKeyUse',
  'beginRepeatable',
  'endRepeatable',
  'addFleet',
  'machineClocks',
  'machinePlaces',
  'fanOut',
  'takeDeliveries',
  'recordAttempts',
  'retireDeliveries',
  'takeDueInquiries',
  'updateDerates',
  'settleDueInquiry',
  'getTrial',
  'listTrials',
  'recomputedUpTo',
  'markRecomputed',
] as const satisfies readonly (keyof Store)[];

/** Methods of which nothing but the second wall has to cut anything: their rows name their fleets, or are of no machine. */
const cutByWall = [
  'listFleets',
  'listAudit',
  'listKeys',
  'getKey',
  'listDeliveries',
  'deliveryAttempts',
  'resendDelivery',
] as const satisfies readonly (keyof Store)[];

export interface ConfineOptions {
  readonly inner: Store;
  readonly whole: Store;
  readonly fleets: readonly string[];
}

/** Confines a store. A method that has no rule here refuses: nothing new is seen by accident. */
export function confineStore({ inner, whole, fleets }: ConfineOptions): Store {
  const mine: Sight['mine'] = async (machineIds) => {
    const known = await whole.fleetsOf(machineIds);
    return new Set(machineIds.filter((machineId) => fleets.includes(known.get(machineId) ?? '')));
  };
  const isMine = async (machineId: string) => (await mine([machineId])).has(machineId);
  const sight: Sight = { inner, fleets, mine, isMine };
  const rules: Partial<Store> = {
    ...machineRules(sight),
    ...accessRules(sight),
    ...alertRules(sight),
    ...deliveryRules(sight),
    ...faultRules(sight),
    ...scoreRules(sight),
    ...serviceRules(sight),
    ...tuningRules(whole, sight),
    ...Object.fromEntries(cutByWall.map((name) => [name, inner[name]])),
    forFleets: (asked) => whole.forFleets(narrowed(asked === 'all' ? undefined : asked, fleets)),
    // One for the whole installation, and of no machine.
    maskKey: () => whole.maskKey(),
    ping: () => inner.ping(),
    close: async () => {},
  };
  return new Proxy(rules, {
    get: (target, name) => Reflect.get(target, name) ?? (name === 'then' ? undefined : () => refuseWhole(String(name))),
  }) as Store;
}

/** Whether there is a rule for each of the methods; for the test that none was forgotten. */
export function methodsWithoutRule(store: Store): string[] {
  const confined = confineStore({ inner: store, whole: store, fleets: [] });
  const known = new Set<string>([...wholeOnly, ...Object.keys(confined)]);
  return Object.keys(store).filter((name) => !known.has(name));
}
