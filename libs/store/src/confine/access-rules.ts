/** How questions about keys and fleets are cut: nobody hands on more than they have. */

import type { FleetScope } from '../access-store.js';
import type { Store } from '../store.js';
import { refuseWhole, type Sight } from './sight.js';

/** The rules. */
export function accessRules({ inner, fleets }: Sight): Partial<Store> {
  const isWithin = (asked: FleetScope) =>
    asked !== 'all' && asked.length > 0 && asked.every((fleet) => fleets.includes(fleet));
  const isMine = async (keyId: string) => {
    const key = await inner.getKey(keyId);
    return key !== null && isWithin(key.fleets);
  };
  return {
    addKey: async (key, secret) => (isWithin(key.fleets) ? inner.addKey(key, secret) : refuseWhole('addKey')),
    rotateKey: async (keyId, secret, overlapMs) =>
      (await isMine(keyId)) && (await inner.rotateKey(keyId, secret, overlapMs)),
    revokeKey: async (keyId) => (await isMine(keyId)) && (await inner.revokeKey(keyId)),
    renameFleet: async (fleetId, name) => fleets.includes(fleetId) && (await inner.renameFleet(fleetId, name)),
  };
}
