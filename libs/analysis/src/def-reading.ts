/** DEF readings: what one minute says of the tank, the dosing and the fuel. */

/** One minute of the machine's time. Missing: null. */
export interface DefReading {
  /** First sample of the minute. */
  readonly atMs: number;
  /** Mean level; null too while the DEF is frozen, when level sensors do not tell. */
  readonly levelPct: number | null;
  readonly runMs: number;
  readonly offMs: number;
  /** Time out of sight in and after the minute. */
  readonly unseenMs: number;
  /** Running time of which neither dosing nor fuel is known. */
  readonly unknownMs: number;
  /** Fuel burnt, and the part of it while the exhaust was warm enough to dose. */
  readonly fuelL: number;
  readonly warmFuelL: number;
  /** DEF dosed; null when the dosing was not sent for most of the running time. */
  readonly dosedL: number | null;
  /** DEF used as far as it can be told: dosed, or reckoned from the fuel. */
  readonly usedL: number;
  readonly concentrationPct: number | null;
  readonly propertyState: number | null;
  readonly tankTempC: number | null;
  readonly ambientTempC: number | null;
  readonly heaterPct: number | null;
}

/** Sums over the minute that goes on; plain numbers, so that they go through JSON. */
export interface OpenMinute {
  /** 0 until the first DEF signal has come. */
  markMs: number;
  fromMs: number;
  levelMs: number;
  levelSum: number;
  runMs: number;
  offMs: number;
  unseenMs: number;
  fuelMs: number;
  fuelSum: number;
  doseMs: number;
  doseSum: number;
}

export const emptyMinute: Readonly<OpenMinute> = {
  markMs: 0,
  fromMs: 0,
  levelMs: 0,
  levelSum: 0,
  runMs: 0,
  offMs: 0,
  unseenMs: 0,
  fuelMs: 0,
  fuelSum: 0,
  doseMs: 0,
  doseSum: 0,
};

/** The slow signals at the end of a minute. Missing: NaN. */
export interface SlowSignals {
  readonly concentrationPct: number;
  readonly propertyState: number;
  readonly tankTempC: number;
  readonly ambientTempC: number;
  readonly heaterPct: number;
  readonly exhaustTempC: number;
}

/** DEF in litres from grams. Source: ISO 22241-1:2019, the middle of 1087-1093 kg/m3. */
const defGPerL = 1090;
/** Share of the running time for which a rate has to be known. Source: engineering judgement. */
const knownRatio = 0.8;
const hourMs = 3_600_000;
/** Below this the tank counts as frozen for level and quality, degC. Source: freezing at -11.5 degC with a margin. */
const frozenC = -9;

/** Closes a minute. `defPerFuelRatio`: DEF for each litre of warm fuel, where the dosing is not known. */
export function readMinute(
  minute: Readonly<OpenMinute>,
  slow: SlowSignals,
  limits: { defPerFuelRatio: number; releaseTempC: number },
): DefReading {
  const { runMs } = minute;
  const isFrozen = slow.tankTempC < frozenC;
  const isWarm = !(slow.exhaustTempC < limits.releaseTempC);
  const fuelL = minute.fuelSum / hourMs;
  const warmFuelL = isWarm ? fuelL : 0;
  const dosedL = minute.doseMs >= knownRatio * runMs && minute.doseMs > 0 ? minute.doseSum / hourMs / defGPerL : null;
  const isFuelKnown = minute.fuelMs >= knownRatio * runMs;
  return {
    atMs: minute.fromMs,
    levelPct: minute.levelMs > 0 && !isFrozen ? minute.levelSum / minute.levelMs : null,
    runMs,
    offMs: minute.offMs,
    unseenMs: minute.unseenMs,
    unknownMs: dosedL === null && !isFuelKnown ? runMs : 0,
    fuelL,
    warmFuelL,
    dosedL,
    usedL: dosedL ?? warmFuelL * limits.defPerFuelRatio,
    concentrationPct: isFrozen ? null : orNull(slow.concentrationPct),
    propertyState: isFrozen ? null : orNull(slow.propertyState),
    tankTempC: orNull(slow.tankTempC),
    ambientTempC: orNull(slow.ambientTempC),
    heaterPct: orNull(slow.heaterPct),
  };
}

function orNull(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}
