/** DEF against the limits of ISO 22241-1. */

/** What the standard limits. */
export type DefProperty = keyof typeof defQualityLimits;

/** A limit; null where the standard sets none on that side. */
export interface DefLimit {
  readonly min: number | null;
  readonly max: number | null;
  readonly unit: string;
}

/**
 * Limits of ISO 22241-1:2019, table 1. Source: read in public previews of the standard. One encyclopaedia page prints
 * 1.3817 for the lower refractive index; the previews print 1.3814.
 */
export const defQualityLimits = {
  ureaPct: { min: 31.8, max: 33.2, unit: '% by mass' },
  densityAt20KgPerM3: { min: 1087, max: 1093, unit: 'kg/m3 at 20 degC' },
  refractiveIndexAt20: { min: 1.3814, max: 1.3843, unit: 'at 20 degC' },
  alkalinityPct: { min: null, max: 0.2, unit: '% by mass as NH3' },
  biuretPct: { min: null, max: 0.3, unit: '% by mass' },
  aldehydesMgPerKg: { min: null, max: 5, unit: 'mg/kg' },
  insolublesMgPerKg: { min: null, max: 20, unit: 'mg/kg' },
  phosphateMgPerKg: { min: null, max: 0.5, unit: 'mg/kg' },
  aluminiumMgPerKg: { min: null, max: 0.5, unit: 'mg/kg' },
  calciumMgPerKg: { min: null, max: 0.5, unit: 'mg/kg' },
  ironMgPerKg: { min: null, max: 0.5, unit: 'mg/kg' },
  magnesiumMgPerKg: { min: null, max: 0.5, unit: 'mg/kg' },
  sodiumMgPerKg: { min: null, max: 0.5, unit: 'mg/kg' },
  potassiumMgPerKg: { min: null, max: 0.5, unit: 'mg/kg' },
  copperMgPerKg: { min: null, max: 0.2, unit: 'mg/kg' },
  zincMgPerKg: { min: null, max: 0.2, unit: 'mg/kg' },
  chromiumMgPerKg: { min: null, max: 0.2, unit: 'mg/kg' },
  nickelMgPerKg: { min: null, max: 0.2, unit: 'mg/kg' },
} as const satisfies Readonly<Record<string, DefLimit>>;

/** What was measured; leave out what was not. */
export type DefAnalysis = { readonly [property in DefProperty]?: number };

/** Property outside its limits. */
export interface DefBreach {
  readonly property: DefProperty;
  readonly measured: number;
  readonly side: 'low' | 'high';
}

export interface DefVerdict {
  /** `meets` speaks only of the properties that were measured; `unknown` when none was. */
  readonly verdict: 'meets' | 'fails' | 'unknown';
  readonly measured: number;
  readonly breaches: readonly DefBreach[];
}

/**
 * Judges an analysis against ISO 22241-1.
 *
 * Range: a value on the limit meets it. Missing: a NaN counts as not measured. Diesel or other fluids in the tank show as
 * urea or density out of limits; telling them apart is a matter of the tank's sensor.
 * Source: see `defQualityLimits`.
 */
export function judgeDefQuality(analysis: DefAnalysis): DefVerdict {
  const breaches: DefBreach[] = [];
  let measured = 0;
  for (const property of Object.keys(defQualityLimits) as DefProperty[]) {
    const value = analysis[property];
    if (value === undefined || value !== value) continue;
    measured++;
    const { min, max }: DefLimit = defQualityLimits[property];
    if (min !== null && value < min) breaches.push({ property, measured: value, side: 'low' });
    if (max !== null && value > max) breaches.push({ property, measured: value, side: 'high' });
  }
  if (measured === 0) return { verdict: 'unknown', measured, breaches };
  return { verdict: breaches.length === 0 ? 'meets' : 'fails', measured, breaches };
}
