/** How long DEF keeps, by the guide of ISO 22241-3. */

/** Days of a month. Source: own arithmetic, 365.25 / 12. */
const daysPerMonth = 365.25 / 12;
const secondsPerDay = 86_400;

/**
 * Months at a constant storage temperature. Source: ISO 22241-3 guide, read on a public page (36 months to 10 degC, 18 to
 * 25, 12 to 30, 6 to 35; above that test before use).
 */
export const defLifeTable = [
  { tempC: 10, months: 36 },
  { tempC: 25, months: 18 },
  { tempC: 30, months: 12 },
  { tempC: 35, months: 6 },
] as const;

/** Above this the guide gives no life: test before use. */
export const defTestBeforeUseC = 35;

/**
 * Days that DEF keeps at a constant temperature.
 *
 * Units: degC, days. Range: 36 months below 10 degC; falls with temperature and is above nought at any.
 * Missing: NaN gives NaN. Source: passes through the points of ISO 22241-3; between them the logarithm of the life is a
 * straight line, and above 35 degC it goes on as from 30 to 35 (halves every 5 K): own arithmetic, not in the standard.
 */
export function defLifeDays(storageTempC: number): number {
  return monthsAt(storageTempC) * daysPerMonth;
}

/** Storage so far: a temperature held for each duration. Shapes: both arrays of the same length. */
export interface StorageHistory {
  readonly durationS: ArrayLike<number>;
  readonly tempC: ArrayLike<number>;
}

export interface LifeUsed {
  /** Share of the life that is used up; 1 is the end, more is past it. */
  readonly usedRatio: number;
  /** Time whose temperature is unknown; it adds nothing to the share. */
  readonly unknownS: number;
  /** Time above 35 degC, for which the guide says to test before use. */
  readonly hotS: number;
}

/**
 * Share of the storage life that a temperature history has used.
 *
 * The integral of dt / life(T). Units: seconds, degC. Range: durations that are not above nought add nothing; a history
 * whose arrays differ in length is read as far as the shorter. Missing: see `unknownS`.
 * Source: own arithmetic; the guide speaks of constant temperature only.
 */
export function defLifeUsed({ durationS, tempC }: StorageHistory): LifeUsed {
  let usedRatio = 0;
  let unknownS = 0;
  let hotS = 0;
  const count = Math.min(durationS.length, tempC.length);
  for (let i = 0; i < count; i++) {
    const held = durationS[i] as number;
    if (!(held > 0)) continue;
    const temperature = tempC[i] as number;
    if (temperature !== temperature) {
      unknownS += held;
      continue;
    }
    usedRatio += held / secondsPerDay / defLifeDays(temperature);
    if (temperature > defTestBeforeUseC) hotS += held;
  }
  return { usedRatio, unknownS, hotS };
}

/**
 * Days left at a storage temperature.
 *
 * Units: share 0..1, degC, days. Range: 0 once the life is used up. Missing: NaN gives NaN. Source: as `defLifeDays`.
 */
export function defLifeLeftDays(usedRatio: number, storageTempC: number): number {
  return Math.max(0, 1 - usedRatio) * defLifeDays(storageTempC);
}

function monthsAt(tempC: number): number {
  if (tempC !== tempC) return Number.NaN;
  if (tempC <= defLifeTable[0].tempC) return defLifeTable[0].months;
  let right = 1;
  while (right < defLifeTable.length - 1 && tempC > (defLifeTable[right] as { tempC: number }).tempC) right++;
  const from = defLifeTable[right - 1] as (typeof defLifeTable)[number];
  const to = defLifeTable[right] as (typeof defLifeTable)[number];
  const share = (tempC - from.tempC) / (to.tempC - from.tempC);
  return from.months * (to.months / from.months) ** share;
}
