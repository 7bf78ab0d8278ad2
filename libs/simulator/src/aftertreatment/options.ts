/** What there is to say about a machine's aftertreatment before it lives. */

/** A stretch in seconds from the start of the simulation. */
export interface Stretch {
  readonly fromS: number;
  readonly toS: number;
}

/** One delivery of DEF, as it lies in a store that several machines fill from. */
export interface DefBatch {
  readonly batchId: string;
  /** Urea by mass, 0..1; 0.325 is right. */
  readonly ureaRatio: number;
}

/** A fill that is made whatever the operator's habit. */
export interface DefFill {
  readonly atS: number;
  readonly litres: number;
  readonly batch?: DefBatch;
}

/** DEF that leaves the tank and is not dosed, as by theft or a leak. */
export interface DefDrop {
  readonly atS: number;
  readonly litres: number;
  /** How long it takes. Default 240. */
  readonly overS?: number;
}

/** Engine hours from the first warning to the low-level and to the severe inducement. */
export type InducementHours = readonly [low: number, severe: number];

/** Everything has a default that makes a sound system; times are seconds from the start of the simulation. */
export interface AftertreatmentOptions {
  /** Engine-out soot against a sound engine. Default 1. */
  readonly sootFactor?: number;
  /** Ash at birth, % of the load that wants cleaning. Default 20. */
  readonly ashPct?: number;
  /** While the operator's switch inhibits active regeneration. */
  readonly inhibited?: readonly Stretch[];
  /** How worn the SCR catalyst is: 0 as new, 1 with its cold end and a quarter of its conversion lost. Default 0. */
  readonly scrWearRatio?: number;
  /** Urea that sticks against the usual share, as with a worn mixer or injector. Default 1. */
  readonly depositFactor?: number;
  /** While the doser gives nothing. */
  readonly doserFault?: Stretch;
  /** While the DEF heater is dead. */
  readonly heaterFault?: Stretch;
  /** DEF of the operator's fills in their order; the last goes on. Default: right DEF. */
  readonly batches?: readonly DefBatch[];
  /** Level that the operator fills to, %. Default 90. */
  readonly filledPct?: number;
  /** Level below which the operator fills, %; 0 never. Default: by the habit. */
  readonly fillBelowPct?: number;
  readonly fills?: readonly DefFill[];
  readonly drops?: readonly DefDrop[];
  /** Air filter at birth: 0 new, 1 at its limit. Default 0.2. */
  readonly airFilterUsedRatio?: number;
  /** How fast it clogs against the usual. Default 1. */
  readonly dustFactor?: number;
  /** Default 10 and 20. */
  readonly inducementHours?: InducementHours;
}
