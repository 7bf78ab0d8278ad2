/** The fleets that the reader sees, and the one that was chosen; the choice is in the address and holds on every page. */

import { computed, signal } from '@preact/signals';
import type { FleetDocument } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { query } from './location.js';

const seen = signal<readonly FleetDocument[] | null>(null);

/** Null until they came; without any where they could not be had. */
export const fleets = computed(() => seen.value);

/** The chosen fleet; null for all. */
export const chosenFleet = computed(() => query.value.get('fleet'));

/** The fleet whose settings are shown and changed; undefined leaves it to the server. */
export const settingsFleet = computed(() => {
  const ids = (seen.value ?? []).map(({ fleetId }) => fleetId);
  return chosenFleet.value ?? (ids.includes('main') ? 'main' : ids[0]);
});

/** The same as a part of a query or a body. */
export const inFleet = computed(() => (settingsFleet.value === undefined ? {} : { fleetId: settingsFleet.value }));

/** Asks for the fleets; again after one was made. */
export async function loadFleets(): Promise<void> {
  const answer = await api.getFleets();
  seen.value = answer?.ok === true ? answer.body.items : (seen.peek() ?? []);
}
