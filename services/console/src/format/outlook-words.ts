/** DEF tank, NOx conversion, suspect sensors and the place within the class, in words. */

import type { Comparison, MachineDetail } from '@warmbrick/contracts';
import { formatNumber, formatQuantity, type UnitSystem } from './unit-system.js';

export type DefOutlook = NonNullable<MachineDetail['def']>;
export type ComparedFigure = Comparison['figures'][number];

const nbsp = '\u00a0';

export interface DefWords {
  /** "62 % of 40 L". */
  readonly level: string;
  /** When it counts as low. */
  readonly lasting: string;
  /** How that is known. */
  readonly basis: string;
  /** What to leave in it overnight; null where no frost threatens. */
  readonly overnight: string | null;
}

/** The tank in words. Missing: says what cannot be told yet. */
export function defWords(def: DefOutlook, units: UnitSystem): DefWords {
  return {
    level: `${Math.round(def.levelPct)}${nbsp}% of ${formatQuantity(def.tankL, 'L', units)}`,
    lasting: lastingWords(def),
    basis: basisWords(def, units),
    overnight: overnightWords(def, units),
  };
}

function lastingWords({ levelPct, limitPct, hoursToLimit, hoursToLimitLow, hoursToLimitHigh }: DefOutlook): string {
  const limit = `${Math.round(limitPct)}${nbsp}%`;
  if (levelPct <= limitPct) return `Low: at or under ${limit}. Fill it before the next shift.`;
  if (hoursToLimit === null)
    return 'How long it lasts cannot be told yet: it takes three engine hours of use to learn.';
  const from = hoursToLimitLow === null ? null : Math.floor(hoursToLimitLow);
  const to = hoursToLimitHigh === null ? null : Math.ceil(hoursToLimitHigh);
  const range = from === null || to === null ? '' : ` (${from} to ${to} in nine of ten cases)`;
  return `Down to ${limit} in about ${hoursWords(hoursToLimit)}${range}, when nothing is filled.`;
}

function hoursWords(hours: number): string {
  const whole = Math.max(1, Math.round(hours));
  return `${whole} engine hour${whole === 1 ? '' : 's'}`;
}

function basisWords({ useLPerH, learnedHours, usedBy }: DefOutlook, units: UnitSystem): string {
  if (useLPerH === null) return '';
  const from = usedBy === 'dosing' ? 'by the dosing it sends' : 'reckoned from fuel and temperature';
  return `It uses ${formatQuantity(useLPerH, 'L/h', units)}, ${from}, over its last ${learnedHours} engine hours.`;
}

function overnightWords({ overnight, marginK, tankTempC, ambientTempC }: DefOutlook, units: UnitSystem): string | null {
  const known = [tankTempC, ambientTempC].filter((tempC) => tempC !== null);
  const coldest = known.length === 0 ? '' : formatQuantity(Math.min(...known) - marginK, 'degC', units);
  const frost = `A night of ${coldest} would freeze it.`;
  switch (overnight) {
    case 'no-frost':
      return null;
    case 'burst-risk':
      return `${frost} It is too full for that: freezing DEF grows by 7${nbsp}% and can burst the tank. Use some before parking it outside.`;
    case 'fuller-than-needed':
      return `${frost} About a quarter full thaws sooner in the morning and leaves room for warm fluid.`;
    case 'about-a-quarter':
      return `${frost} About a quarter is in it, as it should be before a frosty night.`;
    case 'too-low':
      return `${frost} Little is left for the morning: leave about a quarter in it.`;
    case 'unknown':
      return 'Whether frost threatens is not known: neither tank nor air temperature is sent.';
  }
}

const figureWording = {
  'idle-share': { name: 'Running time at idle', unit: 'ratio' },
  'too-cold-share': { name: 'Running time below the catalyst window', unit: 'ratio' },
  'below-release-share': { name: 'Running time too cold to dose', unit: 'ratio' },
  'fuel-l-per-h': { name: 'Fuel for each hour of running', unit: 'L/h' },
  'long-idles-per-day': { name: 'Idles over the limit, each day', unit: '' },
  'hot-stops-per-run': { name: 'Hot stops, of all stops', unit: 'ratio' },
} as const satisfies Record<ComparedFigure['name'], { name: string; unit: string }>;

/** "Running time at idle". */
export function figureName(name: ComparedFigure['name']): string {
  return figureWording[name].name;
}

/** A figure with its unit. Missing: null is "too little seen". */
export function figureValue(name: ComparedFigure['name'], value: number | null, units: UnitSystem): string {
  if (value === null) return 'too little seen';
  const { unit } = figureWording[name];
  if (unit === 'ratio') return `${Math.round(100 * value)}${nbsp}%`;
  return unit === '' ? formatNumber(value) : formatQuantity(value, unit, units);
}

/** Where a machine stands among its like. */
export function standingWords({ standing, percentile, groupSize }: ComparedFigure): string {
  if (standing === 'unknown') return '–';
  if (standing === 'too-few') return `only ${groupSize} alike: too few to compare`;
  const place = percentile === null ? '' : `above ${Math.round(percentile)}${nbsp}% of ${groupSize}`;
  return standing === 'usual' ? place : `${place}; stands out ${standing === 'high' ? 'high' : 'low'}`;
}

/** As in libs/analysis; a copy, so that the pages do not load the analysis for it. */
const sensorNames: Readonly<Record<string, string>> = {
  exhaustTempC: 'exhaust temperature',
  turbineOutTempC: 'temperature behind the turbine',
  docInletTempC: 'temperature before the oxidation catalyst',
  dpfInletTempC: 'temperature before the particulate filter',
  dpfOutletTempC: 'temperature behind the particulate filter',
  scrInletTempC: 'temperature before the SCR catalyst',
  scrOutletTempC: 'temperature behind the SCR catalyst',
  coolantTempC: 'coolant temperature',
};

/** What is not believed, and what follows from it. Missing: null when every sensor is believed. */
export function suspectWords(channels: readonly string[]): string | null {
  if (channels.length === 0) return null;
  const names = channels.map((channel) => sensorNames[channel] ?? channel).join(', ');
  return `Not believed at present: ${names}. What hangs on it is left out or taken from another sensor; see the findings.`;
}
