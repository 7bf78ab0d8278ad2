/** Bodies and queries of the HTTP API about fault codes, derates and the inquiries into them. */

import {
  derateSigns,
  evidenceKinds,
  faultOrigins,
  fleetFaultTableSchema,
  inducementClasses,
} from '@warmbrick/analysis';
import { z } from 'zod';
import { instantSchema } from './replay-document.js';

const lamp = z.enum(['off', 'on', 'reserved', 'unavailable']);
const figure = z.union([z.number(), z.boolean(), z.string(), z.null()]);
const inducementClass = z.enum(inducementClasses).nullable();

/** One time that a code was active. */
export const faultEpisodeSchema = z
  .object({
    id: z.string(),
    startedAt: instantSchema,
    /** null while nothing says that it cleared; silence of the controller does not. */
    endedAt: instantSchema.nullable(),
    endedBy: z.enum(['list', 'event', 'unknown']).nullable(),
    lastSeenAt: instantSchema,
    origin: z.enum(faultOrigins),
    /** Told as previously active and never seen active itself: its times are those of the telling. */
    isPreviouslyActiveOnly: z.boolean(),
  })
  .meta({ id: 'FaultEpisode' });

/** A code in words, and what it may do. */
const wordsOfCode = {
  spn: z.number().int(),
  fmi: z.number().int(),
  /** null when the source did not say which controller. */
  sourceAddress: z.number().int().nullable(),
  spnWords: z.string(),
  fmiWords: z.string(),
  /** Whose words these are: our short table of standard numbers, the fleet's own table, or nobody's. */
  wordsFrom: z.enum(['standard', 'fleet', 'maker-range', 'unknown']),
  /** It says that power is taken or an inducement runs, and not why: never a cause. */
  isConsequence: z.boolean(),
  inducementClass,
};

/** One code of one controller with every time it occurred. */
export const faultLineSchema = z
  .object({
    code: z.string(),
    ...wordsOfCode,
    conversionMethod: z.union([z.literal(0), z.literal(1)]),
    occurrences: z.number().int(),
    /** The controller's own count as last told; null when it does not count. */
    reportedCount: z.number().int().nullable(),
    firstAt: instantSchema,
    lastAt: instantSchema,
    isActive: z.boolean(),
    lamps: z.object({ malfunction: lamp, redStop: lamp, amberWarning: lamp, protect: lamp }),
    flash: z.number().int(),
    /** The newest first; of many only the newest twenty. */
    episodes: z.array(faultEpisodeSchema),
  })
  .meta({ id: 'FaultLine' });

export const faultListSchema = z.object({ items: z.array(faultLineSchema), nextCursor: z.string().nullable() });

export const faultSorts = ['occurrence', 'time', 'first'] as const;

const instantQuery = z.iso.datetime({ offset: true }).meta({ description: 'RFC 3339 time.' });
const limit = (most: number, usual: number) => z.coerce.number().int().min(1).max(most).default(usual);
const spn = z.number().int().min(0).max(0x7ffff);
const fmi = z.number().int().min(0).max(31);
const address = z.number().int().min(0).max(253);

export const faultListQuerySchema = z.strictObject({
  limit: limit(500, 100),
  cursor: z.string().max(300).optional(),
  sort: z
    .enum(faultSorts)
    .default('time')
    .meta({ description: 'occurrence: most often first; time: last seen first; first: first seen first.' }),
  from: instantQuery.optional(),
  to: instantQuery.optional(),
  state: z.enum(['active', 'cleared']).optional(),
  spn: z.coerce.number().pipe(spn).optional(),
  fmi: z.coerce.number().pipe(fmi).optional(),
  sourceAddress: z.coerce.number().pipe(address).optional(),
});

/** A code that somebody read off a display and types in. */
export const faultEntryBodySchema = z
  .strictObject({
    /** Chosen by the sender; the same again is the same entry. */
    id: z.uuid().optional(),
    at: z.iso.datetime({ offset: true }),
    spn,
    fmi,
    sourceAddress: address.nullable().default(null),
    what: z.enum(['became-active', 'became-inactive', 'occurred']).default('occurred'),
    occurrenceCount: z.number().int().min(0).max(126).nullable().default(null),
    note: z.string().trim().min(1).max(300).nullable().default(null),
  })
  .meta({ id: 'FaultEntryBody' });

export const faultEntrySchema = z
  .object({
    id: z.string(),
    at: instantSchema,
    spn,
    fmi,
    sourceAddress: address.nullable(),
    what: z.enum(['became-active', 'became-inactive', 'occurred']),
    note: z.string().nullable(),
    typedBy: z.string(),
    typedAt: instantSchema,
  })
  .meta({ id: 'FaultEntry' });

export const faultTextsBodySchema = z.strictObject({ items: fleetFaultTableSchema }).meta({ id: 'FaultTextsBody' });

export const faultTextsSchema = z.object({
  fleetId: z.string(),
  items: z.array(
    z.object({
      spn,
      fmi: fmi.nullable(),
      text: z.string(),
      inducementClass,
      isDerateCode: z.boolean(),
      derates: z.string().optional(),
      checkFirst: z.string().optional(),
      changedBy: z.string(),
      changedAt: instantSchema,
    }),
  ),
});

export const faultTextsQuerySchema = z.strictObject({ fleetId: z.string().min(1).max(120).optional() });

export const derateSchema = z
  .object({
    id: z.string(),
    machineId: z.string(),
    startedAt: instantSchema,
    endedAt: instantSchema.nullable(),
    level: z.enum(['unclear', 'low', 'severe']),
    signs: z.array(z.enum(derateSigns)),
    saidClass: inducementClass,
    peakSeverity: z.number().nullable(),
    leastTorqueRatio: z.number().nullable(),
    lostPowerKW: z.number().nullable(),
    runningH: z.number().nullable(),
    lostH: z.number().nullable(),
  })
  .meta({ id: 'Derate' });

export const evidenceSchema = z
  .object({
    kind: z.enum(evidenceKinds),
    text: z.string(),
    /** Whether it speaks for the fault as the origin; null when it only explains. */
    supports: z.boolean().nullable(),
    figures: z.record(z.string(), figure),
  })
  .meta({ id: 'Evidence' });

export const originSchema = z
  .object({
    faultId: z.string(),
    ...wordsOfCode,
    startedAt: instantSchema,
    endedAt: instantSchema.nullable(),
    rank: z.number().int(),
    likelihood: z.number().min(0).max(1),
    isOrigin: z.boolean(),
    evidence: z.array(evidenceSchema),
  })
  .meta({ id: 'OriginCandidate' });

export const inquirySchema = z
  .object({
    verdict: z.enum(['found', 'several', 'unknown']),
    confidence: z.number().min(0).max(1),
    summary: z.string(),
    /** By rank: the origins first, then the runners-up. */
    origins: z.array(originSchema),
    checkFirst: z.array(z.string()),
    doNot: z.array(z.string()),
    suspectSensors: z.array(z.object({ channel: z.string(), why: z.string() })),
    notes: z.array(evidenceSchema),
  })
  .meta({ id: 'DerateInquiry' });

export const inquiryRevisionSchema = z.object({
  revision: z.number().int(),
  madeAt: instantSchema,
  /** What was new against the answer before, in words. */
  changes: z.array(z.string()),
  verdict: z.enum(['found', 'several', 'unknown']),
  summary: z.string(),
});

const clockStepSchema = z.object({
  text: z.string(),
  level: z.enum(['warning', 'low', 'severe']),
  hoursLeft: z.number().nullable(),
  atLevelPct: z.number().nullable(),
  torqueCutRatio: z.number().nullable(),
  isIdleOnly: z.boolean(),
  isReached: z.boolean(),
  /** Told from memory and not read in the text of the rule. */
  fromMemory: z.boolean(),
});

export const inducementClockSchema = z
  .object({
    scheduleId: z.string(),
    title: z.string(),
    source: z.string(),
    fromMemory: z.boolean(),
    caution: z.string(),
    lines: z.array(
      z.object({
        inducementClass: z.enum(inducementClasses),
        faultIds: z.array(z.string()),
        startedAt: instantSchema,
        activeH: z.number(),
        isUpperBound: z.boolean(),
        isRepeat: z.boolean(),
        steps: z.array(clockStepSchema),
        clears: z.string(),
      }),
    ),
  })
  .meta({ id: 'InducementClock' });

export const derateItemSchema = derateSchema.extend({
  /** The newest answer; null while there is none yet. */
  inquiry: inquirySchema.nullable(),
});

export const derateListSchema = z.object({ items: z.array(derateItemSchema), nextCursor: z.string().nullable() });

export const derateListQuerySchema = z.strictObject({
  limit: limit(100, 20),
  cursor: z.string().max(300).optional(),
  from: instantQuery.optional(),
  to: instantQuery.optional(),
});

export const derateDetailSchema = derateItemSchema
  .extend({
    /** A later analysis found that it was no derate; what was said about it stays. */
    isWithdrawn: z.boolean(),
    history: z.array(inquiryRevisionSchema),
    /** What each schedule that may hold says of the faults active now; empty when none runs. */
    clocks: z.array(inducementClockSchema),
  })
  .meta({ id: 'DerateDetail' });

export type FaultEpisodeDocument = z.output<typeof faultEpisodeSchema>;
export type FaultLine = z.output<typeof faultLineSchema>;
export type FaultList = z.output<typeof faultListSchema>;
export type FaultSort = (typeof faultSorts)[number];
export type FaultEntryBody = z.output<typeof faultEntryBodySchema>;
export type FaultEntryDocument = z.output<typeof faultEntrySchema>;
export type FaultTexts = z.output<typeof faultTextsSchema>;
export type DerateDocument = z.output<typeof derateSchema>;
export type EvidenceDocument = z.output<typeof evidenceSchema>;
export type OriginDocument = z.output<typeof originSchema>;
export type InquiryDocument = z.output<typeof inquirySchema>;
export type DerateItem = z.output<typeof derateItemSchema>;
export type DerateList = z.output<typeof derateListSchema>;
export type DerateDetail = z.output<typeof derateDetailSchema>;
export type InducementClockDocument = z.output<typeof inducementClockSchema>;
