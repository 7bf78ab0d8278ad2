/** Scenario files of derates: what a machine did and which codes it sent over some hours, and what the inquiry must say. */

import { readFileSync } from 'node:fs';
import { type FaultNotice, inducementClasses } from '@warmbrick/analysis';
import { isChannelName } from '@warmbrick/signals';
import { parse } from 'yaml';
import { z } from 'zod';

const clock = z
  .string()
  .regex(/^\d{1,3}:[0-5]\d$/, 'expected hours and minutes such as "2:30"')
  .transform((text) => {
    const [hours = 0, minutes = 0] = text.split(':').map(Number);
    return (hours * 60 + minutes) * 60;
  });
const code = z
  .string()
  .regex(/^\d+\/\d+$/, 'expected a code as SPN/FMI, such as "1761/18"')
  .transform((text) => {
    const [spn = 0, fmi = 0] = text.split('/').map(Number);
    return { spn, fmi };
  });
/** A value, or "40 to 9" for one that goes evenly from one to the other, or null for one no longer sent. */
const course = z
  .union([z.number(), z.null(), z.string().regex(/^-?[\d.]+ to -?[\d.]+$/)])
  .transform((value): readonly [number, number] | null => {
    if (value === null) return null;
    if (typeof value === 'number') return [value, value];
    const [from = 0, to = 0] = value.split(' to ').map(Number);
    return [from, to];
  });

const stretchSchema = z.strictObject({
  for: clock,
  /** Silent: the machine works and nothing is heard of it. */
  drive: z.enum(['work', 'idle', 'off', 'silent']),
  /** Stays until it is set again. */
  set: z
    .record(z.string(), course)
    .refine((set) => Object.keys(set).every(isChannelName), { error: 'names no channel' })
    .default({}),
  /** The clock of the machine is put forward (or back) before this stretch, in minutes. */
  clockJumpMin: z.number().default(0),
});

const messageSchema = z
  .strictObject({
    at: clock,
    from: z.number().int().min(0).max(255).nullable().default(0),
    /** Active list of the controller from now on, said again every minute while the engine runs, until its next one. */
    active: z.array(code).optional(),
    /** So many more codes in that list: numbers from this one on. */
    andMore: z.strictObject({ count: z.number().int(), spn: z.number().int(), fmi: z.number().int() }).optional(),
    lamps: z.array(z.enum(['malfunction', 'redStop', 'amberWarning', 'protect'])).default(['amberWarning']),
    previously: z.array(code).optional(),
    /** The controller says nothing from now on. */
    silent: z.literal(true).optional(),
    event: z
      .strictObject({
        code,
        kind: z.enum(['became-active', 'became-inactive', 'occurred'] satisfies FaultNotice['kind'][]),
        origin: z.enum(['event', 'feed', 'typed'] satisfies FaultNotice['origin'][]),
      })
      .optional(),
    /** Arrives only after the derate has been judged once. */
    late: z.boolean().default(false),
  })
  .refine((message) => message.active ?? message.previously ?? message.silent ?? message.event, {
    error: 'expected one of active, previously, silent, event',
  });

const expectedSchema = z.strictObject({
  verdict: z.enum(['found', 'several', 'unknown']),
  /** Codes of the origins that are named, in any order; of an unknown one nothing. */
  origins: z.array(code).default([]),
  /** Codes that have to be listed at least, whatever the verdict. */
  listed: z.array(code).default([]),
  notListed: z.array(code).default([]),
  inducementClass: z.enum(inducementClasses).optional(),
  suspectSensors: z.array(z.string()).default([]),
  /** Words that have to stand somewhere in the answer. */
  says: z.array(z.string()).default([]),
});

const scenarioSchema = z.strictObject({
  title: z.string(),
  story: z.string(),
  profile: z.record(z.string(), z.unknown()).default({}),
  schedules: z.array(z.string()).default(['eu-stage-v']),
  /** Codes of the fleet's own. */
  fleetTable: z.array(z.record(z.string(), z.unknown())).default([]),
  /** Whether the machine sends engine hours. */
  hasHours: z.boolean().default(true),
  /** Whether controllers send empty lists from the start, as the bus does; else their first list is the first message. */
  hasEmptyLists: z.boolean().default(true),
  course: z.array(stretchSchema).min(1),
  messages: z.array(messageSchema).min(1),
  /** How many derates there are; the last is inquired into. */
  derates: z.number().int().default(1),
  level: z.enum(['unclear', 'low', 'severe']).optional(),
  /** What was said before the late messages arrived. */
  before: expectedSchema.optional(),
  expect: expectedSchema,
});

export type Scenario = z.output<typeof scenarioSchema>;
export type Expected = z.output<typeof expectedSchema>;

/** Reads a scenario file; throws with the place of what is wrong in it. */
export function readScenario(path: string): Scenario {
  const parsed = scenarioSchema.safeParse(parse(readFileSync(path, 'utf8')));
  if (!parsed.success) throw new Error(`${path}: ${z.prettifyError(parsed.error)}`);
  return parsed.data;
}
