/** What the reader has chosen, read from the address so that a copied link shows the same. */

import { computed } from '@preact/signals';
import type { ZoneChoice } from '../format/instant.js';
import type { UnitSystem } from '../format/unit-system.js';
import { query } from './location.js';

export type ThemeChoice = 'system' | 'light' | 'dark';

export const units = computed<UnitSystem>(() => (query.value.get('units') === 'imperial' ? 'imperial' : 'metric'));
export const zoneChoice = computed<ZoneChoice>(() => (query.value.get('zone') === 'utc' ? 'utc' : 'machine'));
export const theme = computed<ThemeChoice>(() => {
  const asked = query.value.get('theme');
  return asked === 'light' || asked === 'dark' ? asked : 'system';
});
