/** How questions about who is told of alerts are cut: a destination belongs to one fleet. */

import type { Store } from '../store.js';
import { refuseWhole, type Sight } from './sight.js';

/** The rules. */
export function deliveryRules({ inner, fleets }: Sight): Partial<Store> {
  const own = async () => (await inner.listDestinations()).filter(({ fleetId }) => fleets.includes(fleetId));
  return {
    listDestinations: own,
    putDestination: async (destination) =>
      fleets.includes(destination.fleetId) ? inner.putDestination(destination) : refuseWhole('putDestination'),
    deleteDestination: async (id) => (await own()).some((it) => it.id === id) && (await inner.deleteDestination(id)),
  };
}
