/** Rates by whole degrees, worked out once: an exponential a second is what a simulation would spend its time with. */

const coldestC = -60;
const hottestC = 1000;

/** A function of temperature, read at the nearest whole degree between -60 and 1000 degC. */
export function rateTable(rateAt: (tempC: number) => number): (tempC: number) => number {
  const rates = Float64Array.from({ length: hottestC - coldestC + 1 }, (_, i) => rateAt(i + coldestC));
  return (tempC) => rates[Math.round(Math.min(hottestC, Math.max(coldestC, tempC))) - coldestC] as number;
}

const gasConstantJPerMolK = 8.314;
const zeroCelsiusK = 273.15;

/** An Arrhenius rate that has a known value at one temperature. */
export function arrhenius(ratePerS: number, energyJPerMol: number, referenceC: number): (tempC: number) => number {
  const referenceK = referenceC + zeroCelsiusK;
  return (tempC) =>
    ratePerS * Math.exp((-energyJPerMol / gasConstantJPerMolK) * (1 / (tempC + zeroCelsiusK) - 1 / referenceK));
}
