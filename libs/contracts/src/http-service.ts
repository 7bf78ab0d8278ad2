/** Bodies and queries about service, batches of DEF, shifts and inspections. */

import { serviceItemPattern } from '@warmbrick/signals';
import { z } from 'zod';
import { instantSchema, residencyTotalsSchema } from './replay-document.js';

const person = z.string().trim().min(1).max(80);
const note = z.string().max(1000).default('');
const item = z.string().regex(serviceItemPattern, 'expected the name of an item, such as "engine-oil"');
const instantInput = z.iso.datetime({ offset: true });

/** Work that was done, as it is written down. */
export const serviceRecordInputSchema = z
  .strictObject({
    item,
    at: instantInput,
    engineHours: z.number().min(0).max(500_000).nullable().default(null),
    note,
    /** Who did it or wrote it down; default: the name of the key. */
    by: person.optional(),
  })
  .meta({ id: 'NewServiceRecord' });

/** Several at once, of any machines; the same records again change nothing. */
export const serviceImportSchema = z
  .array(serviceRecordInputSchema.extend({ machineId: z.string().min(1).max(100) }))
  .min(1)
  .max(2000)
  .meta({ id: 'ServiceImport' });

export const serviceRecordSchema = z
  .object({
    id: z.string(),
    item: z.string(),
    at: instantSchema,
    engineHours: z.number().nullable(),
    note: z.string(),
    recordedBy: z.string(),
    recordedAt: instantSchema,
  })
  .meta({ id: 'ServiceRecord' });

export const serviceDueStates = ['never-recorded', 'fine', 'soon', 'overdue'] as const;

export const serviceDueSchema = z
  .object({
    item: z.string(),
    name: z.string(),
    interval: z.object({ hours: z.number().nullable(), months: z.number().nullable() }),
    source: z.string(),
    lastAt: instantSchema.nullable(),
    lastEngineHours: z.number().nullable(),
    usedHours: z.number().nullable(),
    usedBasis: z.enum(['hour-meter', 'observed-running']).nullable(),
    hoursLeft: z.number().nullable(),
    dueAt: instantSchema.nullable(),
    dueBy: z.enum(['hours', 'calendar']).nullable(),
    state: z.enum(serviceDueStates),
  })
  .meta({ id: 'ServiceDue' });

/** Everything about the service of one machine. */
export const machineServiceSchema = z
  .object({
    machineId: z.string(),
    name: z.string(),
    timeZone: z.string(),
    at: instantSchema,
    engineHours: z.object({ value: z.number(), at: instantSchema }).nullable(),
    due: z.array(serviceDueSchema),
    records: z.array(serviceRecordSchema),
  })
  .meta({ id: 'MachineService' });

export const serviceImportResultSchema = z.object({ written: z.number().int(), known: z.number().int() });

/** A batch of DEF as it is written down. */
export const defBatchInputSchema = z
  .strictObject({
    name: z.string().trim().min(1).max(80),
    fleetId: z.string().min(1).max(40).default('main'),
    site: z.string().min(1).max(80).nullable().default(null),
    purchasedOn: z.iso.date(),
    storageTempC: z.number().min(-40).max(60),
    quantityL: z.number().min(0).max(1_000_000),
    leftL: z.number().min(0).max(1_000_000).optional(),
    note,
  })
  .meta({ id: 'NewDefBatch' });

export const defBatchSchema = z
  .object({
    id: z.string(),
    name: z.string(),
    fleetId: z.string(),
    site: z.string().nullable(),
    purchasedOn: z.string(),
    storageTempC: z.number(),
    quantityL: z.number(),
    leftL: z.number(),
    note: z.string(),
    recordedBy: z.string(),
    recordedAt: instantSchema,
    /** Share of the storage life that is used at this temperature. */
    usedRatio: z.number(),
    goodUntil: instantSchema,
    state: z.enum(['good', 'use-soon', 'past']),
    isTooWarm: z.boolean(),
  })
  .meta({ id: 'DefBatch' });

export const defBatchListSchema = z.object({ items: z.array(defBatchSchema) });

/** What an operator looks at, in the order of the page. Source: common practice, end of shift and DEF filling. */
export const inspectionItems = ['def-strainer', 'def-can', 'restriction-indicator', 'end-of-shift'] as const;
export type InspectionItem = (typeof inspectionItems)[number];

/** `null` is a tick that nobody has made. */
const tick = z.enum(['in-order', 'not-in-order']).nullable();
const ticks = z.object(
  Object.fromEntries(inspectionItems.map((name) => [name, tick])) as Record<InspectionItem, typeof tick>,
);

/** What an operator ticked. `basedOn` is the version that was on the screen, 0 for none. */
export const inspectionInputSchema = z
  .strictObject({
    by: person,
    ticks: ticks.partial(),
    note,
    basedOn: z.number().int().min(0).max(1000),
  })
  .meta({ id: 'NewInspection' });

export const inspectionSchema = z
  .object({ version: z.number().int(), at: instantSchema, by: z.string(), ticks, note: z.string() })
  .meta({ id: 'Inspection' });

const startSchema = z.object({
  at: instantSchema,
  grade: z.enum(['good', 'too-early-load', 'unseen']),
  warmupS: z.number().nullable(),
  wantedS: z.number().nullable(),
});
const stopSchema = z.object({
  at: instantSchema,
  grade: z.enum(['good', 'short', 'hot', 'unknown']),
  cooldownS: z.number().nullable(),
  wantedS: z.number(),
});
const idleSchema = z.object({
  startedAt: instantSchema,
  endedAt: instantSchema.nullable(),
  durationS: z.number(),
  fuelL: z.number().nullable(),
});
const fillSchema = z.object({
  at: instantSchema,
  litres: z.number().nullable(),
  levelAfterPct: z.number().nullable(),
});

/** One shift of one machine. */
export const shiftSchema = z
  .object({
    name: z.string(),
    startedAt: instantSchema,
    endedAt: instantSchema,
    isOver: z.boolean(),
    residency: residencyTotalsSchema,
    starts: z.array(startSchema),
    idles: z.array(idleSchema),
    stops: z.array(stopSchema),
    fills: z.array(fillSchema),
    wellDoneRatio: z.number().nullable(),
    /** Tank level at the last sample of the shift; null where no level is sent. */
    defLevelEndPct: z.number().nullable(),
    /** The version that stands, and all versions, oldest first. */
    inspection: inspectionSchema.nullable(),
    inspectionHistory: z.array(inspectionSchema),
  })
  .meta({ id: 'Shift' });

export const shiftListSchema = z.object({
  machineId: z.string(),
  machineName: z.string(),
  timeZone: z.string(),
  cooldownWantedS: z.number(),
  items: z.array(shiftSchema),
});

export const shiftQuerySchema = z.strictObject({ from: instantInput.optional(), to: instantInput.optional() });

export type MachineService = z.output<typeof machineServiceSchema>;
export type ServiceDueDocument = z.output<typeof serviceDueSchema>;
export type ServiceRecordDocument = z.output<typeof serviceRecordSchema>;
export type DefBatchDocument = z.output<typeof defBatchSchema>;
export type ShiftDocument = z.output<typeof shiftSchema>;
export type ShiftList = z.output<typeof shiftListSchema>;
export type Inspection = z.output<typeof inspectionSchema>;
