/** `case.yaml`: what a recorded case shows and what has to be found in it. */

import { readFileSync } from 'node:fs';
import { findingKinds, severities } from '@warmbrick/analysis';
import { machineProfileSchema } from '@warmbrick/signals';
import { parse } from 'yaml';
import { z } from 'zod';

const instant = z.iso.datetime({ offset: true });
const about = z.strictObject({ about: z.number(), within: z.number().min(0) });
const aboutByName = z.record(z.string(), about);

const expectedFindingSchema = z.strictObject({
  machineId: z.string(),
  kind: z.enum(findingKinds),
  startedAt: instant,
  /** `open`: still going on at the last sample. Not given: not compared. */
  endedAt: z.union([instant, z.literal('open')]).optional(),
  /** How far both times may be off. */
  withinS: z.number().min(0),
  /** One, or those that will do. */
  severity: z.union([z.enum(severities), z.array(z.enum(severities))]).optional(),
  /** A number with a tolerance, or a value that has to be met. */
  values: z.record(z.string(), z.union([about, z.boolean(), z.string()])).optional(),
});

const pickSchema = z.strictObject({
  kind: z.enum(findingKinds),
  machineId: z.string().optional(),
  why: z.string().min(1),
});

export const caseFileSchema = z.strictObject({
  title: z.string().min(1),
  /** Kinds of finding that the case is about: at least one of each is expected. */
  shows: z.array(z.enum(findingKinds)),
  recordings: z.array(z.string()).min(1),
  /** Profile of each machine, as far as it differs from the default. */
  machines: z.record(z.string(), machineProfileSchema),
  expected: z.array(expectedFindingSchema),
  /** Residency totals of a machine, in seconds. */
  totals: z.record(z.string(), aboutByName).default({}),
  /** Values thrown away at the edge: machine, channel, reason. */
  unusable: z.record(z.string(), z.record(z.string(), z.record(z.string(), z.number()))).default({}),
  /** What the reading itself has to say of the recordings. */
  reading: z.strictObject({ wasSorted: z.boolean(), duplicates: z.number().int() }).optional(),
  /** Must not be found. */
  absent: z.array(pickSchema).default([]),
  /** May be found, and is no matter of this case. Everything else has to be expected. */
  ignore: z.array(pickSchema).default([]),
  /** Files that hold the same samples another way; they have to give the same answer. */
  sameAnswerFrom: z.array(z.string()).default([]),
});

export type CaseFile = z.output<typeof caseFileSchema>;
export type CaseFileInput = z.input<typeof caseFileSchema>;
export type ExpectedFinding = z.output<typeof expectedFindingSchema>;
export type FindingPick = z.output<typeof pickSchema>;

/** Reads a case file. Errors: throws with the path and zod's list of what is wrong. */
export function readCaseFile(path: string): CaseFile {
  const result = caseFileSchema.safeParse(parse(readFileSync(path, 'utf8')));
  if (!result.success) throw new Error(`${path}: ${z.prettifyError(result.error)}`);
  return result.data;
}
