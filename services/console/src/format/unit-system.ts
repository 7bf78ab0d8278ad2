/** Metric and imperial units. Only temperatures, litres and travel speed differ; percent, rpm, kPa and ppm stay as sent. */

export type UnitSystem = 'metric' | 'imperial';

export interface UnitView {
  /** Unit as it is written after a number. */
  readonly label: string;
  readonly convert: (value: number) => number;
}

/** Litres in a US liquid gallon. Source: NIST SP 811 (2008), appendix B.8. */
const litresPerGallon = 3.785_411_784;
/** Kilometres in an international mile. Source: NIST SP 811 (2008), appendix B.8. */
const kmPerMile = 1.609_344;

const imperial: Readonly<Record<string, UnitView>> = {
  degC: { label: '°F', convert: (tempC) => tempC * 1.8 + 32 },
  K: { label: '°F', convert: (differenceK) => differenceK * 1.8 },
  L: { label: 'gal', convert: (volumeL) => volumeL / litresPerGallon },
  'L/h': { label: 'gal/h', convert: (rateLPerH) => rateLPerH / litresPerGallon },
  'km/h': { label: 'mph', convert: (speedKmPerH) => speedKmPerH / kmPerMile },
};

const metricLabels: Readonly<Record<string, string>> = { degC: '°C', K: '°C' };

/**
 * How a unit of the channel catalogue is shown.
 *
 * Units: `degC` is a temperature, `K` a difference of two. Gallons are US liquid gallons.
 */
export function viewUnit(unit: string, system: UnitSystem): UnitView {
  const other = system === 'imperial' ? imperial[unit] : undefined;
  return other ?? { label: metricLabels[unit] ?? unit, convert: (value) => value };
}

/**
 * A value with its unit, rounded for reading: "352 °C", "666 °F", "12.4 L".
 *
 * Missing: null or a non-finite value gives "no reading".
 */
export function formatQuantity(value: number | null, unit: string, system: UnitSystem): string {
  if (value === null || !Number.isFinite(value)) return 'no reading';
  const view = viewUnit(unit, system);
  return view.label === ''
    ? formatNumber(view.convert(value))
    : `${formatNumber(view.convert(value))}\u00a0${view.label}`;
}

/** A number with no more digits than a reader needs: whole from 100 on, else at most one decimal, two below 1. */
export function formatNumber(value: number): string {
  const size = Math.abs(value);
  const digits = size >= 100 ? 0 : size >= 1 || size === 0 ? 1 : 2;
  const text = String(Number(value.toFixed(digits)));
  return text.replace(/^-(?=0$)/, '').replace('-', '\u2212');
}
