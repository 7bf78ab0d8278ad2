/** The document of a comparison of two threshold sets: of `warmbrick compare --json`, the trials and the bench page. */

import { findingKinds, type ThresholdSet, thresholdNames } from '@warmbrick/analysis';
import {
  changeTypes,
  type FindingChange,
  kindOfChange,
  type MachineComparison,
  sumChanges,
  type TrialFinding,
} from '@warmbrick/tuning';
import { z } from 'zod';
import { openedAlerts } from './opened-alerts.js';
import { findingSchema, instantSchema } from './replay-document.js';
import { toFindingDocument, toInstant } from './to-document.js';

const trialFindingSchema = findingSchema
  .extend({ raisedAt: instantSchema })
  .meta({ id: 'TrialFinding', description: 'A finding, and the machine time at which it was first known.' });

const changeSchema = z
  .object({
    type: z.enum(changeTypes),
    kind: z.enum(findingKinds),
    before: trialFindingSchema.nullable(),
    after: trialFindingSchema.nullable(),
    /** What differs, for one that changes; else empty. */
    fields: z.array(z.string()),
  })
  .meta({ id: 'FindingChange' });

const countsSchema = z
  .object({
    before: z.number().int(),
    after: z.number().int(),
    ...(Object.fromEntries(changeTypes.map((type) => [type, z.number().int()])) as Record<
      (typeof changeTypes)[number],
      z.ZodNumber
    >),
  })
  .meta({ id: 'ChangeCounts' });

const beforeAndAfter = z.object({ before: z.number(), after: z.number() });

const outcomeSchema = z
  .object({
    labels: z.number().int(),
    hits: z.number().int(),
    misses: z.number().int(),
    raised: z.number().int(),
    falseAlarms: z.number().int(),
    /** Figures by name with 90 % intervals over machines; null where there is none. */
    figures: z.record(
      z.string(),
      z.object({ value: z.number().nullable(), low: z.number().nullable(), high: z.number().nullable() }),
    ),
  })
  .meta({ id: 'Outcome' });

export const comparisonDocumentSchema = z
  .object({
    isEqual: z.boolean(),
    sets: z.object({ before: z.string(), after: z.string() }),
    /** Thresholds in which the sets differ. */
    thresholds: z.record(z.string(), beforeAndAfter),
    totals: countsSchema,
    byKind: z.record(z.string(), countsSchema),
    byClass: z.record(z.string(), countsSchema),
    /** Alerts that rules over findings would have opened, by rule; null when it was not asked for. */
    alerts: z.record(z.string(), beforeAndAfter).nullable(),
    /** Both sets judged by what really happened; null when no truth was given. */
    outcomes: z.object({ before: outcomeSchema, after: outcomeSchema }).nullable(),
    machines: z.array(
      z.object({
        machineId: z.string(),
        machineClass: z.string(),
        isEqual: z.boolean(),
        samples: z.number().int(),
        score: z.object({ before: z.number().nullable(), after: z.number().nullable() }),
        residency: z.record(z.string(), beforeAndAfter),
        changes: z.array(changeSchema),
      }),
    ),
  })
  .meta({ id: 'ComparisonDocument' });

export type OutcomeDocument = z.output<typeof outcomeSchema>;
export type ComparisonDocument = z.output<typeof comparisonDocumentSchema>;
export type ChangeDocument = z.output<typeof changeSchema>;

/** The document of some machines' comparisons, in order of their names. With `hasAlerts` alerts are tried, too, which takes longer. */
export function toComparisonDocument(
  sets: { readonly before: ThresholdSet; readonly after: ThresholdSet },
  comparisons: readonly MachineComparison[],
  {
    hasAlerts = false,
    outcomes = null,
  }: { readonly hasAlerts?: boolean; readonly outcomes?: ComparisonDocument['outcomes'] } = {},
): ComparisonDocument {
  const machines = [...comparisons].sort((a, b) => (a.machineId < b.machineId ? -1 : 1));
  const sums = sumChanges(machines);
  return {
    isEqual: sums.isEqual,
    sets: { before: sets.before.version, after: sets.after.version },
    thresholds: thresholdDifferences(sets.before, sets.after),
    totals: { ...sums.total },
    byKind: { ...sums.byKind },
    byClass: { ...sums.byClass },
    alerts: hasAlerts ? alertsOf(machines) : null,
    outcomes,
    machines: machines.map((machine) => ({
      machineId: machine.machineId,
      machineClass: machine.machineClass,
      isEqual: machine.isEqual,
      samples: machine.after.samples,
      score: { before: machine.scoreBefore, after: machine.scoreAfter },
      residency: { ...machine.residencyDiffers },
      changes: machine.changes.map(toChangeDocument),
    })),
  };
}

function alertsOf(machines: readonly MachineComparison[]): NonNullable<ComparisonDocument['alerts']> {
  const alerts: Record<string, { before: number; after: number }> = {};
  for (const machine of machines) {
    for (const side of ['before', 'after'] as const) {
      const { machineId, profile, findings } = machine[side];
      const place = { machineId, fleetId: profile.fleet ?? 'main', profile };
      for (const [rule, count] of Object.entries(openedAlerts(place, findings))) {
        const counts = alerts[rule] ?? { before: 0, after: 0 };
        alerts[rule] = counts;
        counts[side] += count;
      }
    }
  }
  return Object.fromEntries(Object.entries(alerts).sort(([a], [b]) => (a < b ? -1 : 1)));
}

/** Thresholds in which two sets differ, with both values. */
export function thresholdDifferences(before: ThresholdSet, after: ThresholdSet): ComparisonDocument['thresholds'] {
  const names = thresholdNames.filter((name) => before.values[name] !== after.values[name]);
  return Object.fromEntries(names.map((name) => [name, { before: before.values[name], after: after.values[name] }]));
}

function toChangeDocument(change: FindingChange): ChangeDocument {
  const trialFinding = ({ finding, raisedMs }: TrialFinding) => ({
    ...toFindingDocument(finding),
    raisedAt: toInstant(raisedMs),
  });
  return {
    type: change.type,
    kind: kindOfChange(change),
    before: change.type === 'appears' ? null : trialFinding(change.before),
    after: change.type === 'vanishes' ? null : trialFinding(change.after),
    fields: change.type === 'changes' ? [...change.fields] : [],
  };
}
