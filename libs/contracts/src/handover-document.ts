/** The handover sheet: all that a dealer needs to know about a machine and a period, as one document. */

import { severities } from '@warmbrick/analysis';
import { z } from 'zod';
import {
  derateSchema,
  faultEpisodeSchema,
  faultLineSchema,
  inducementClockSchema,
  inquiryRevisionSchema,
  inquirySchema,
  originSchema,
} from './http-faults.js';
import { instantSchema, observedSchema, residencyTotalsSchema } from './replay-document.js';

/** A channel around an event, evenly sampled; null where nothing was measured. */
const windowChannelSchema = z.object({
  channel: z.string(),
  label: z.string(),
  unit: z.string(),
  values: z.array(z.number().nullable()),
});

/** Signals from before an event to after it. */
export const signalWindowSchema = z.object({
  at: instantSchema,
  from: instantSchema,
  to: instantSchema,
  stepS: z.number(),
  channels: z.array(windowChannelSchema),
});

const timesSchema = faultEpisodeSchema.omit({ id: true });

export const handoverCodeSchema = faultLineSchema.omit({ code: true, episodes: true }).extend({
  /** What the sheet calls it, such as C3. */
  number: z.string(),
  /** Of all occurrences those that reach into the period. */
  occurrencesInPeriod: z.number().int(),
  /** Those of the period, the newest first, as many as fit. */
  times: z.array(timesSchema),
  notes: z.array(z.object({ at: instantSchema, typedBy: z.string().nullable(), note: z.string() })),
  /** Around the first and the last time in the period. */
  windows: z.array(signalWindowSchema),
});

const handoverOriginSchema = originSchema.omit({ faultId: true }).extend({
  /** Number of the code in this sheet; null when it is not among them. */
  code: z.string().nullable(),
});

export const handoverDerateSchema = derateSchema.omit({ id: true, machineId: true }).extend({
  number: z.string(),
  inquiry: inquirySchema
    .omit({ origins: true })
    .extend({ origins: z.array(handoverOriginSchema) })
    .nullable(),
  history: z.array(inquiryRevisionSchema),
  window: signalWindowSchema.nullable(),
});

export const serviceDoneSchema = z.object({
  at: instantSchema,
  what: z.string(),
  engineHours: z.number().nullable(),
  by: z.string().nullable(),
  note: z.string().nullable(),
});

export const handoverSchema = z
  .object({
    form: z.literal('handover-sheet-1'),
    madeAt: instantSchema,
    software: z.string(),
    thresholdSet: z.string(),
    isMasked: z.boolean(),
    /** Zone that a printed sheet shows its times in; times in this document are UTC. */
    timeZone: z.string(),
    period: z.object({ from: instantSchema, to: instantSchema }),
    machine: z.object({
      /** How the sheet calls the machine: its name, or a neutral label. */
      label: z.string(),
      machineId: z.string().nullable(),
      name: z.string().nullable(),
      site: z.string().nullable(),
      machineClass: z.string(),
      displacementL: z.number(),
      ratedPowerKW: z.number(),
      catalystFamily: z.string(),
      hasParticulateFilter: z.boolean(),
      defTankL: z.number(),
    }),
    /** In sentences, for somebody who was not there. */
    inShort: z.array(z.string()),
    hours: z
      .object({
        engineHoursFrom: z.number().nullable(),
        engineHoursTo: z.number().nullable(),
        residency: residencyTotalsSchema.nullable(),
        observed: observedSchema.nullable(),
      })
      .meta({ description: 'Counter at both ends of the period, and how the time of the period was spent.' }),
    derates: z.array(handoverDerateSchema),
    clocks: z.array(inducementClockSchema),
    codes: z.array(handoverCodeSchema),
    runs: z.object({
      count: z.number().int(),
      byDay: z.array(z.object({ day: z.iso.date(), runs: z.number().int(), runningS: z.number(), idleS: z.number() })),
    }),
    regenerations: z.array(
      z.object({
        startedAt: instantSchema,
        endedAt: instantSchema.nullable(),
        outcome: z.string(),
        durationS: z.number(),
        sootBeforePct: z.number().nullable(),
        sootAfterPct: z.number().nullable(),
        peakInletTempC: z.number().nullable(),
      }),
    ),
    defFills: z.array(
      z.object({
        at: instantSchema,
        litres: z.number(),
        levelBeforePct: z.number(),
        levelAfterPct: z.number(),
      }),
    ),
    /** Low level, quality, frost and losses, as they were found. */
    defFindings: z.array(
      z.object({ startedAt: instantSchema, endedAt: instantSchema.nullable(), what: z.string(), figures: z.string() }),
    ),
    /** Other findings of the period by kind. */
    otherFindings: z.array(z.object({ what: z.string(), count: z.number().int(), worst: z.enum(severities) })),
    /** Work recorded; null where no service ledger is kept. */
    service: z.array(serviceDoneSchema).nullable(),
    /** What is missing or cut short. */
    limits: z.array(z.string()),
    cautions: z.array(z.string()),
  })
  .meta({ id: 'HandoverSheet' });

export const handoverFormats = ['json', 'csv', 'pdf', 'html'] as const;
export type HandoverFormat = (typeof handoverFormats)[number];

const instantQuery = z.iso.datetime({ offset: true }).meta({ description: 'RFC 3339 time.' });

export const handoverQuerySchema = z.strictObject({
  from: instantQuery.optional(),
  to: instantQuery.optional(),
  mask: z
    .enum(['true', 'false'])
    .default('false')
    .meta({ description: 'Leaves out everything that tells which machine it is and where it works.' }),
  format: z.enum(handoverFormats).default('json'),
});

export type SignalWindowDocument = z.output<typeof signalWindowSchema>;
export type HandoverCode = z.output<typeof handoverCodeSchema>;
export type HandoverDerate = z.output<typeof handoverDerateSchema>;
export type ServiceDone = z.output<typeof serviceDoneSchema>;
export type HandoverDocument = z.output<typeof handoverSchema>;
