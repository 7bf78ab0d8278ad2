/** Bodies and queries of the HTTP API, version 1. */

import { operatingModes, residencySums } from '@warmbrick/analysis';
import { channelNames, machineProfileSchema } from '@warmbrick/signals';
import { z } from 'zod';
import { fleetIdSchema } from './http-access.js';
import { formatQuery } from './http-series.js';
import {
  defOutlookSchema,
  findingSchema,
  instantSchema,
  loadOutlookSchema,
  noxBinSchema,
  observedSchema,
  residencyTotalsSchema,
  scoreSchema,
} from './replay-document.js';

/** Rows of a strip by quarter hour, as columns; all columns have the same length. */
export const dayStripSchema = z
  .object({
    startedAt: instantSchema,
    bucketS: z.number(),
    runningS: z.array(z.number()),
    idleS: z.array(z.number()),
    belowReleaseS: z.array(z.number()),
    belowS: z.array(z.number()),
    inS: z.array(z.number()),
    aboveS: z.array(z.number()),
    unobservedS: z.array(z.number()),
  })
  .meta({ id: 'DayStrip' });

export const machineItemSchema = z
  .object({
    machineId: z.string(),
    name: z.string(),
    machineClass: z.string(),
    site: z.string().nullable(),
    timeZone: z.string(),
    lastSampleAt: instantSchema,
    mode: z.enum(operatingModes),
    score: scoreSchema.nullable(),
    /** The last 24 hours of the machine's own time. */
    day: dayStripSchema,
    /** Sums over `day`. */
    residency: residencyTotalsSchema,
    /** Findings of the last 24 hours of machine time, by kind. */
    findingCounts: z.record(z.string(), z.number().int()),
  })
  .meta({ id: 'MachineItem' });

export const machineListSchema = z.object({
  items: z.array(machineItemSchema),
  nextCursor: z.string().nullable(),
});

export const machineDetailSchema = machineItemSchema
  .extend({
    observed: observedSchema,
    profile: machineProfileSchema,
    window: z.object({ lowC: z.number(), highC: z.number() }),
    histogramS: z.array(z.number()),
    exhaustSourceS: z.record(z.string(), z.number()),
    longestIdleS: z.number(),
    load: loadOutlookSchema.nullable(),
    def: defOutlookSchema.nullable(),
    noxBins: z.array(noxBinSchema),
    suspectChannels: z.array(z.string()),
    thresholdSet: z.string(),
  })
  .meta({ id: 'MachineDetail' });

export const findingListSchema = z.object({ items: z.array(findingSchema), nextCursor: z.string().nullable() });

export const residencyBuckets = ['quarter', 'hour', 'shift', 'day'] as const;

export const residencySeriesSchema = z.object({
  bucket: z.enum(residencyBuckets),
  timeZone: z.string(),
  items: z.array(
    z.object({
      startedAt: instantSchema,
      endedAt: instantSchema,
      /** Name of the shift, null for the other buckets. */
      shift: z.string().nullable(),
      ...(Object.fromEntries(residencySums.map((name) => [name, z.number()])) as Record<
        (typeof residencySums)[number],
        z.ZodNumber
      >),
      maxExhaustTempC: z.number().nullable(),
    }),
  ),
});

const series = z.array(z.number().nullable());

export const sampleSeriesSchema = z.object({
  from: instantSchema,
  to: instantSchema,
  bucketS: z.number(),
  /** Start of each bucket; buckets without a sample are left out. */
  startedAt: z.array(instantSchema),
  channels: z.record(z.string(), z.object({ unit: z.string(), min: series, mean: series, max: series })),
});

export const problemSchema = z
  .object({
    type: z.string(),
    title: z.string(),
    status: z.number().int(),
    detail: z.string().optional(),
    instance: z.string().optional(),
    code: z.string(),
    errors: z.array(z.object({ path: z.string(), message: z.string() })).optional(),
  })
  .meta({ id: 'Problem', description: 'RFC 9457 problem details.' });

const limit = (most: number, usual: number) => z.coerce.number().int().min(1).max(most).default(usual);
const instantQuery = z.iso.datetime({ offset: true }).meta({ description: 'RFC 3339 time.' });

export const machineListQuerySchema = z.strictObject({
  limit: limit(200, 50),
  cursor: z.string().max(300).optional(),
  sort: z.enum(['risk', 'name']).default('risk'),
  site: z.string().max(80).optional(),
  fleet: fleetIdSchema.optional(),
});

export const findingListQuerySchema = z.strictObject({
  limit: limit(500, 100),
  cursor: z.string().max(300).optional(),
  from: instantQuery.optional(),
  to: instantQuery.optional(),
  kind: z.string().max(1000).optional().meta({ description: 'One kind, or several with commas between.' }),
});

export const residencyQuerySchema = z.strictObject({
  bucket: z.enum(residencyBuckets).default('hour'),
  from: instantQuery.optional(),
  to: instantQuery.optional(),
  format: formatQuery,
});

export const sampleQuerySchema = z.strictObject({
  from: instantQuery.optional(),
  to: instantQuery.optional(),
  channels: z
    .string()
    .max(1000)
    .optional()
    .meta({ description: `Channel names with commas between, of: ${channelNames.join(', ')}.` }),
  buckets: z.coerce.number().int().min(1).max(4000).default(600),
  format: formatQuery,
});

/** Server-sent event `machine`: something about a machine changed. */
export const machineEventSchema = z.object({
  machineId: z.string(),
  lastSampleAt: instantSchema,
  mode: z.enum(operatingModes),
  scoreValue: z.number().nullable(),
});

export type DayStrip = z.output<typeof dayStripSchema>;
export type MachineItem = z.output<typeof machineItemSchema>;
export type MachineList = z.output<typeof machineListSchema>;
export type MachineDetail = z.output<typeof machineDetailSchema>;
export type FindingList = z.output<typeof findingListSchema>;
export type ResidencySeries = z.output<typeof residencySeriesSchema>;
export type ResidencyBucket = (typeof residencyBuckets)[number];
export type SampleSeries = z.output<typeof sampleSeriesSchema>;
export type Problem = z.output<typeof problemSchema>;
export type MachineEvent = z.output<typeof machineEventSchema>;
