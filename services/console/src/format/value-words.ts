/** Named figures of a finding in words; the unit is read off the end of the name, as everywhere in the project. */

import { formatDuration } from './duration.js';
import { formatInstant } from './instant.js';
import { formatNumber, formatQuantity, type UnitSystem } from './unit-system.js';

export type NamedValue = number | boolean | string | null;

export interface ValueView {
  readonly units: UnitSystem;
  readonly timeZone: string;
  readonly nowMs: number;
}

export interface ValueWords {
  readonly label: string;
  readonly text: string;
}

type Render = (value: number, view: ValueView) => string;

const quantity =
  (unit: string): Render =>
  (value, view) =>
    formatQuantity(value, unit, view.units);

/** Endings of names, longest first where one ends in another. */
const endings: readonly (readonly [RegExp, Render])[] = [
  [/Ms$/, (value, view) => formatInstant(value, view.timeZone, view.nowMs)],
  [/LPerH$/, quantity('L/h')],
  [/KmPerH$/, quantity('km/h')],
  [/KPa$/, quantity('kPa')],
  [/Rpm$/, quantity('rpm')],
  [/Ppm$/, quantity('ppm')],
  [/Pct$/, quantity('%')],
  [/Ratio$/, (value) => `${formatNumber(value * 100)}\u00a0%`],
  [/Min$/, (value) => formatDuration(value * 60)],
  [/S$/, (value) => formatDuration(value)],
  [/C$/, quantity('degC')],
  [/K$/, quantity('K')],
  [/L$/, quantity('L')],
  [/V$/, quantity('V')],
  [/H$/, quantity('h')],
];

/**
 * A named figure as label and text: `coolDownS: 40` gives "cool down", "40 s".
 *
 * Missing: null gives "not known". A name without a unit is shown as it is.
 */
export function valueWords(name: string, value: NamedValue, view: ValueView): ValueWords {
  if (typeof value === 'string') return { label: spaced(name), text: value };
  if (typeof value === 'boolean') return { label: spaced(name), text: value ? 'yes' : 'no' };
  const ending = endings.find(([pattern]) => pattern.test(name));
  const label = spaced(ending === undefined ? name : name.replace(ending[0], ''));
  if (value === null) return { label, text: 'not known' };
  return { label, text: ending === undefined ? formatNumber(value) : ending[1](value, view) };
}

function spaced(name: string): string {
  return name
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .replace(/-/g, ' ')
    .toLowerCase()
    .replace(/\b(def|scr|dpf|doc|nox)\b/g, (short) => (short === 'nox' ? 'NOx' : short.toUpperCase()));
}
