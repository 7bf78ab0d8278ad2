/** The document that `warmbrick replay --json` prints, and the pieces of it that the API shares. */

import {
  findingKinds,
  no2Bases,
  operatingModes,
  residencySums,
  severities,
  sootBases,
  waysToLimit,
} from '@warmbrick/analysis';
import { z } from 'zod';

/** RFC 3339 in UTC with milliseconds. */
export const instantSchema = z.iso.datetime({ offset: false, precision: 3 });

export const scoreSchema = z
  .object({
    value: z.number().min(0).max(100),
    parts: z.record(z.string(), z.number()).meta({ description: 'Points by part; they add up to the value.' }),
    confidence: z.number().min(0).max(1),
    missing: z.array(z.string()),
    advice: z.string(),
    caution: z.string().nullable(),
  })
  .meta({ id: 'RiskScore' });

/** What the models say of soot and deposits; see LoadOutlook in libs/analysis. */
export const loadOutlookSchema = z
  .object({
    sootG: z.number().nullable(),
    sootLimitG: z.number().nullable(),
    sootRatio: z.number().nullable(),
    isMeasured: z.boolean(),
    sootDoubtRatio: z.number().nullable(),
    // Not in reports that were stored before they were known.
    sootBasis: z.enum(sootBases).nullable().optional(),
    no2Basis: z.enum(no2Bases).nullable().optional(),
    depositG: z.number(),
    depositLimitG: z.number(),
    depositRatio: z.number(),
    isDepositMeasured: z.boolean(),
    workTempC: z.number(),
    minutesUntilClean: z.number().nullable(),
    hoursToLimit: z.number().nullable(),
    wayToLimit: z.enum(waysToLimit),
  })
  .meta({ id: 'LoadOutlook' });

/** The DEF tank; see DefOutlook in libs/analysis. */
export const defOutlookSchema = z
  .object({
    levelPct: z.number(),
    tankL: z.number(),
    limitPct: z.number(),
    learnedHours: z.number(),
    useLPerH: z.number().nullable(),
    spreadLPerH: z.number().nullable(),
    usedBy: z.enum(['dosing', 'fuel']),
    hoursToLimit: z.number().nullable(),
    hoursToLimitLow: z.number().nullable(),
    hoursToLimitHigh: z.number().nullable(),
    tankTempC: z.number().nullable(),
    ambientTempC: z.number().nullable(),
    overnight: z.enum(['no-frost', 'burst-risk', 'fuller-than-needed', 'about-a-quarter', 'too-low', 'unknown']),
    marginK: z.number(),
  })
  .meta({ id: 'DefOutlook' });

/** NOx conversion in one bin of exhaust temperature: of late and by the machine's own past. */
export const noxBinSchema = z
  .object({
    lowC: z.number(),
    highC: z.number(),
    conversionRatio: z.number().nullable(),
    baselineRatio: z.number().nullable(),
  })
  .meta({ id: 'NoxBin' });

const findingValueSchema = z.union([z.number(), z.boolean(), z.string(), z.null()]);

export const findingSchema = z
  .object({
    id: z.string(),
    machineId: z.string(),
    kind: z.enum(findingKinds),
    startedAt: instantSchema,
    endedAt: instantSchema.nullable(),
    severity: z.enum(severities),
    values: z.record(z.string(), findingValueSchema),
    evidence: z.record(z.string(), findingValueSchema),
    thresholdSet: z.string(),
  })
  .meta({ id: 'Finding' });

const seconds = z.number().min(0);

export const residencyTotalsSchema = z
  .object({
    ...(Object.fromEntries(residencySums.map((name) => [name, seconds])) as Record<
      (typeof residencySums)[number],
      typeof seconds
    >),
    maxExhaustTempC: z.number().nullable(),
  })
  .meta({ id: 'ResidencyTotals' });

export const observedSchema = z.object({
  from: instantSchema,
  to: instantSchema,
  coverageRatio: z.number().min(0).max(1),
});

/** One fault code of one controller, with when it was reported. */
export const faultCodeSchema = z.object({
  sourceAddress: z.number().int(),
  kind: z.enum(['active', 'previously-active']),
  spn: z.number().int(),
  fmi: z.number().int(),
  occurrenceCount: z.number().int().nullable(),
  firstAt: instantSchema,
  lastAt: instantSchema,
});

export const machineReportSchema = z.object({
  machineId: z.string(),
  observed: observedSchema,
  residency: residencyTotalsSchema,
  histogramS: z.array(z.number()),
  exhaustSourceS: z.record(z.string(), z.number()),
  longestIdleS: seconds,
  mode: z.enum(operatingModes),
  load: loadOutlookSchema.nullable(),
  score: scoreSchema.nullable(),
  def: defOutlookSchema.nullable(),
  noxBins: z.array(noxBinSchema),
  suspectChannels: z.array(z.string()),
  findings: z.array(findingSchema),
  faultCodes: z.array(faultCodeSchema),
  /** Per channel: values thrown away at the edge, by reason. */
  unusable: z.record(z.string(), z.record(z.string(), z.number())),
});

export const replayDocumentSchema = z.object({
  machines: z.array(machineReportSchema),
  /** What came of the files as a whole. */
  reading: z.object({
    samples: z.number().int(),
    duplicates: z.number().int(),
    conflicts: z.number().int(),
    wasSorted: z.boolean(),
    frames: z.number().int(),
    incompleteTransfers: z.number().int(),
    warnings: z.array(z.string()),
  }),
  rejects: z.object({
    count: z.number().int(),
    byReason: z.record(z.string(), z.number().int()),
    examples: z.array(z.object({ reason: z.string(), where: z.string(), detail: z.string() })),
  }),
});

export type ScoreDocument = z.output<typeof scoreSchema>;
export type DefOutlookDocument = z.output<typeof defOutlookSchema>;
export type NoxBinDocument = z.output<typeof noxBinSchema>;
export type LoadDocument = z.output<typeof loadOutlookSchema>;
export type FindingDocument = z.output<typeof findingSchema>;
export type FaultCodeDocument = z.output<typeof faultCodeSchema>;
export type MachineReport = z.output<typeof machineReportSchema>;
export type ReplayDocument = z.output<typeof replayDocumentSchema>;
