/** Fuel and money of an idling engine. */

/**
 * Idle fuel for each litre of displacement, L/h. Source: measured on one tractor of 6-7 litres (2.03 L/h, 0.31); read in a
 * US Department of Energy fact sheet: 0.32 for a 2-litre car, 0.21 for a 6-10 litre truck. Range taken 0.25-0.35.
 */
export const idleFuelLPerHPerL = 0.3;

/**
 * Fuel at low idle without accessories, L/h, from the displacement.
 *
 * Units: litres, L/h. Range: nought and more; good to a third. Missing: NaN gives NaN. Source: see `idleFuelLPerHPerL`.
 */
export function idleFuelLPerH(displacementL: number): number {
  return Math.max(0, displacementL) * idleFuelLPerHPerL;
}

/** What an idle hour is made of; one currency throughout. */
export interface IdlePrices {
  readonly fuelLPerH: number;
  readonly fuelPricePerL: number;
  /** What an engine hour costs in value, service and warranty. */
  readonly hourPrice: number;
  readonly defLPerH?: number;
  readonly defPricePerL?: number;
}

/**
 * Cost of an hour at idle.
 *
 * Range: any prices. Missing: NaN gives NaN. Source: own arithmetic: fuel, DEF and the hour itself.
 */
export function idleCostPerH(prices: IdlePrices): number {
  const { fuelLPerH, fuelPricePerL, hourPrice, defLPerH = 0, defPricePerL = 0 } = prices;
  return fuelLPerH * fuelPricePerL + defLPerH * defPricePerL + hourPrice;
}
