/** Bodies of the HTTP API about what is ahead of a machine and how it stands beside its class. */

import { workFigureNames } from '@warmbrick/analysis';
import { z } from 'zod';
import { defOutlookSchema, instantSchema, noxBinSchema } from './replay-document.js';

export const defOutlookAnswerSchema = z
  .object({
    machineId: z.string(),
    asOf: instantSchema,
    /** null while no level was seen long enough. */
    outlook: defOutlookSchema.nullable(),
    /** The level at engine hours to come when nothing is filled, with the range of 90 in 100; empty while the use is not learned. */
    levelsAhead: z.array(
      z.object({ hours: z.number(), levelPct: z.number(), lowPct: z.number(), highPct: z.number() }),
    ),
  })
  .meta({ id: 'DefOutlookAnswer' });

export const noxAnswerSchema = z
  .object({
    machineId: z.string(),
    asOf: instantSchema,
    dosingReleaseTempC: z.number(),
    window: z.object({ lowC: z.number(), highC: z.number() }),
    bins: z.array(noxBinSchema),
  })
  .meta({ id: 'NoxAnswer' });

const changeSchema = z.object({
  /** First day of the new mean. */
  since: instantSchema,
  meanBefore: z.number(),
  meanAfter: z.number(),
});

export const comparisonSchema = z
  .object({
    machineId: z.string(),
    /** Class and work that the figures are held against. */
    group: z.string(),
    from: instantSchema,
    to: instantSchema,
    /** Machines of the class that were looked at, and whether there were more. */
    peers: z.number().int(),
    hasMorePeers: z.boolean(),
    figures: z.array(
      z.object({
        name: z.enum(workFigureNames),
        /** null where too little was seen. */
        value: z.number().nullable(),
        groupSize: z.number().int(),
        groupMedian: z.number().nullable(),
        lowerQuartile: z.number().nullable(),
        upperQuartile: z.number().nullable(),
        percentile: z.number().nullable(),
        standing: z.enum(['usual', 'high', 'low', 'too-few', 'unknown']),
        /** The day from which this figure of the machine is another one; null where none stands out. */
        change: changeSchema.nullable(),
      }),
    ),
  })
  .meta({ id: 'Comparison' });

export const defBatchTraceListSchema = z.object({
  items: z.array(
    z
      .object({
        batch: z.string(),
        machines: z.array(
          z.object({ machineId: z.string(), filledAt: instantSchema, lostAt: instantSchema.nullable() }),
        ),
        lostCount: z.number().int(),
        otherCount: z.number().int(),
        otherLostCount: z.number().int(),
        chanceRatio: z.number(),
        isSuspect: z.boolean(),
      })
      .meta({ id: 'DefBatchTrace' }),
  ),
  /** Machines that were looked at, and whether there were more. */
  machines: z.number().int(),
  hasMoreMachines: z.boolean(),
});

export type DefOutlookAnswer = z.output<typeof defOutlookAnswerSchema>;
export type NoxAnswer = z.output<typeof noxAnswerSchema>;
export type Comparison = z.output<typeof comparisonSchema>;
export type DefBatchTraceList = z.output<typeof defBatchTraceListSchema>;
