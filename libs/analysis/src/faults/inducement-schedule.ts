/** Inducement schedules: how long after a fault power is taken, as dated tables that a user may add to. */

import { z } from 'zod';
import { inducementClasses } from './inducement-class.js';

const stepSchema = z.strictObject({
  /** What happens, in words. */
  text: z.string().min(1).max(160),
  level: z.enum(['warning', 'low', 'severe']),
  /** Engine hours after the fault was first active; null for a step that hangs on the tank's level alone. */
  afterH: z.number().min(0).max(1000).nullable(),
  /** The step comes when the tank falls under this, %; null for one that hangs on hours alone. */
  atLevelPct: z.number().min(0).max(100).nullable().default(null),
  /** Share of the torque that is taken, 0..1; null when the source does not say. */
  torqueCutRatio: z.number().min(0).max(1).nullable().default(null),
  /** Idle only. */
  isIdleOnly: z.boolean().default(false),
  fromMemory: z.boolean().default(false),
});

const pathSchema = z.strictObject({
  classes: z.array(z.enum(inducementClasses)).min(1),
  /** In the order in which they come. */
  steps: z.array(stepSchema).min(1).max(10),
  /** Steps of a fault that comes again within so many engine hours of the last; null where there are none. */
  repeat: z
    .strictObject({ withinH: z.number().min(0).max(1000), steps: z.array(stepSchema).min(1).max(10) })
    .nullable()
    .default(null),
  /** What clears it, in words. */
  clears: z.string().min(1).max(200),
});

const dateSchema = z.iso.date().nullable();

export const inducementScheduleSchema = z.strictObject({
  id: z.string().regex(/^[a-z0-9-]{1,60}$/, 'expected small letters, digits and hyphens'),
  title: z.string().min(1).max(120),
  region: z.string().min(1).max(60),
  /** In force from and to; null is open. */
  validFrom: dateSchema,
  validTo: dateSchema,
  source: z.string().min(1).max(300),
  /** Told from memory, in whole: to be checked against the text before anybody relies on it. */
  fromMemory: z.boolean(),
  paths: z.array(pathSchema).min(1).max(20),
});

export type InducementSchedule = z.output<typeof inducementScheduleSchema>;
export type InducementPath = InducementSchedule['paths'][number];
export type InducementStep = InducementPath['steps'][number];

/** The schedules that were in force at a time, in UTC. */
export function schedulesInForce(schedules: readonly InducementSchedule[], atMs: number): InducementSchedule[] {
  const day = new Date(atMs).toISOString().slice(0, 10);
  return schedules.filter(
    ({ validFrom, validTo }) => (validFrom === null || validFrom <= day) && (validTo === null || day <= validTo),
  );
}
