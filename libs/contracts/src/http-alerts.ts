/** Bodies and queries of alerts, rules and maintenance windows. */

import {
  type Alert,
  conditionStates,
  longestShelfMs,
  type MaintenanceWindow,
  ruleSchema,
  suppressions,
} from '@warmbrick/alerting';
import { severities } from '@warmbrick/analysis';
import { z } from 'zod';
import { fleetIdSchema } from './http-access.js';
import { instantSchema } from './replay-document.js';
import { alertGroupKey } from './to-alert-message.js';
import { toInstant } from './to-document.js';
import { alertMessageSchema } from './topics.js';

const list = (text: string) =>
  z
    .string()
    .max(1000)
    .optional()
    .meta({ description: `One ${text}, or several with commas between.` });
const instantQuery = z.iso.datetime({ offset: true }).meta({ description: 'RFC 3339 time.' });

export const alertListQuerySchema = z.strictObject({
  limit: z.coerce.number().int().min(1).max(500).default(100),
  cursor: z.string().max(300).optional(),
  condition: list(`of ${conditionStates.join(', ')}; default all`),
  severity: list(`of ${severities.join(', ')}`),
  machineId: z.string().max(100).optional(),
  site: z.string().max(80).optional(),
  fleet: fleetIdSchema.optional(),
  rule: list('id of a rule'),
  acknowledged: z.enum(['true', 'false']).optional(),
  from: instantQuery.optional(),
  to: instantQuery.optional(),
});

/** One alert as it stands. */
export const alertSchema = z
  .object({
    episodeId: z.string(),
    machineId: z.string(),
    rule: z.string(),
    title: z.string(),
    text: z.string(),
    advice: z.string().nullable(),
    caution: z.string().nullable(),
    condition: z.enum(conditionStates),
    severity: z.enum(severities),
    group: alertMessageSchema.shape.group,
    startedAt: instantSchema,
    endedAt: instantSchema.nullable(),
    learnedAt: instantSchema.nullable(),
    isPast: z.boolean(),
    isWithdrawn: z.boolean(),
    sequence: z.number().int(),
    isAcknowledged: z.boolean(),
    acknowledgedBy: z.string().nullable(),
    acknowledgedAt: instantSchema.nullable(),
    assignee: z.string().nullable(),
    shelvedUntil: instantSchema.nullable(),
    shelvedBy: z.string().nullable(),
    shelveReason: z.string().nullable(),
    suppression: z.enum(suppressions),
    suppressionReason: z.string().nullable(),
    escalationLevel: z.number().int(),
    findingId: z.string().nullable(),
    figures: alertMessageSchema.shape.figures,
    thresholdSet: z.string().nullable(),
  })
  .meta({ id: 'Alert' });

export const alertListSchema = z.object({ items: z.array(alertSchema), nextCursor: z.string().nullable() });

export const alertDetailSchema = alertSchema
  .extend({ events: z.array(alertMessageSchema).meta({ description: 'Every step, oldest first.' }) })
  .meta({ id: 'AlertDetail' });

const note = z.string().max(500);
const words = z.string().trim().min(1).max(500);

export const acknowledgeSchema = z.strictObject({ note: note.optional() });
export const assignSchema = z.strictObject({
  to: z.string().trim().min(1).max(80).nullable().meta({ description: 'Whoever sees to it; null takes it away.' }),
  note: note.optional(),
});
export const shelveSchema = z.strictObject({
  minutes: z
    .number()
    .int()
    .min(1)
    .max(longestShelfMs / 60_000),
  reason: words,
});
export const commentSchema = z.strictObject({ note: words });

/** What people may leave out of a request is filled in; `rule` is checked as a whole, with all problems at once. */
export const rulePutSchema = z.strictObject({
  fleetId: z.string().max(100).optional().meta({ description: 'Default: the only fleet of the caller, or `main`.' }),
  basedOn: z.number().int().min(0).max(2_147_483_647).optional().meta({
    description: 'Revision that the change was made from; refused when somebody else has changed the rule since.',
  }),
  rule: z.unknown().meta({ description: 'An AlertRule; what is left out has a default.' }),
});

export const ruleTrySchema = z.strictObject({
  fleetId: z.string().max(100).optional(),
  days: z.number().int().min(1).max(31).default(7),
  rule: z.unknown().meta({ description: 'An AlertRule; what is left out has a default.' }),
});

export const ruleDocumentSchema = z
  .object({
    fleetId: z.string().meta({ description: 'Whose it is; a built-in rule that nobody changed is everybody\'s: "".' }),
    isBuiltIn: z.boolean().meta({ description: 'Whether there is a built-in rule of this id.' }),
    isChanged: z.boolean().meta({ description: 'Whether somebody has set it.' }),
    revision: z.number().int(),
    changedAt: instantSchema.nullable(),
    changedBy: z.string().nullable(),
    rule: ruleSchema,
  })
  .meta({ id: 'RuleDocument' });

export const ruleListSchema = z.object({ items: z.array(ruleDocumentSchema) });

export const ruleTriedSchema = z
  .object({
    from: instantSchema,
    to: instantSchema,
    machines: z.number().int(),
    count: z.number().int(),
    pages: z.number().int(),
    openings: z.array(
      z.object({
        machineId: z.string(),
        startedAt: instantSchema,
        endedAt: instantSchema.nullable(),
        severity: z.enum(severities),
        pages: z.boolean(),
        text: z.string(),
      }),
    ),
    /** What it could not be tried on. */
    remarks: z.array(z.string()),
  })
  .meta({ id: 'RuleTried' });

export const maintenanceAddSchema = z.strictObject({
  fleetId: z.string().max(100).optional(),
  machineId: z.string().max(100).optional(),
  site: z.string().max(80).optional(),
  from: instantQuery.optional().meta({ description: 'Default: now.' }),
  to: instantQuery.optional().meta({ description: 'Left out: until it is deleted.' }),
  reason: words,
});

export const maintenanceSchema = z
  .object({
    id: z.string(),
    fleetId: z.string(),
    machineId: z.string().nullable(),
    site: z.string().nullable(),
    from: instantSchema,
    to: instantSchema.nullable(),
    reason: z.string(),
    by: z.string(),
  })
  .meta({ id: 'MaintenanceWindow' });

export const maintenanceListSchema = z.object({ items: z.array(maintenanceSchema) });

export type AlertDocument = z.output<typeof alertSchema>;
export type AlertList = z.output<typeof alertListSchema>;
export type AlertDetail = z.output<typeof alertDetailSchema>;
export type RuleDocument = z.output<typeof ruleDocumentSchema>;
export type RuleList = z.output<typeof ruleListSchema>;
export type RuleTried = z.output<typeof ruleTriedSchema>;
export type MaintenanceDocument = z.output<typeof maintenanceSchema>;
export type MaintenanceList = z.output<typeof maintenanceListSchema>;

const instant = (timeMs: number | null) => (timeMs === null ? null : toInstant(timeMs));

/** An alert with its times as RFC 3339. */
export function toAlertDocument(alert: Alert): AlertDocument {
  const { operator, group } = alert;
  return {
    episodeId: alert.episodeId,
    machineId: alert.machineId,
    rule: alert.ruleId,
    ...alert.words,
    condition: alert.condition,
    severity: alert.severity,
    group: { key: alertGroupKey(alert.machineId, group), ...group },
    startedAt: toInstant(alert.startedMs),
    endedAt: instant(alert.endedMs),
    learnedAt: instant(alert.learnedMs),
    isPast: alert.isPast,
    isWithdrawn: alert.isWithdrawn,
    sequence: alert.sequence,
    isAcknowledged: operator.isAcknowledged,
    acknowledgedBy: operator.acknowledgedBy,
    acknowledgedAt: instant(operator.acknowledgedMs),
    assignee: operator.assignee,
    shelvedUntil: instant(operator.shelvedUntilMs),
    shelvedBy: operator.shelvedBy,
    shelveReason: operator.shelveReason,
    suppression: operator.suppression,
    suppressionReason: operator.suppressionReason,
    escalationLevel: operator.escalationLevel,
    findingId: alert.findingId,
    figures: { ...alert.figures },
    thresholdSet: alert.thresholdSet,
  };
}

/** A window with its times as RFC 3339. */
export function toMaintenanceDocument(window: MaintenanceWindow): MaintenanceDocument {
  const { id, fleetId, machineId, site, fromMs, toMs, reason, by } = window;
  return { id, fleetId, machineId, site, from: toInstant(fromMs), to: instant(toMs), reason, by };
}
