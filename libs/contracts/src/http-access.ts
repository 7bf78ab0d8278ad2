/** Who may do what: roles, keys, fleets, sign-in and the audit log, as the HTTP API speaks of them. */

import { z } from 'zod';
import { instantSchema } from './replay-document.js';

/** Each may do what those before it may. Source: design decision. */
export const roles = ['viewer', 'analyst', 'engineer', 'admin'] as const;
export type Role = (typeof roles)[number];

/** Whether a role may do what another role may. */
export function mayActAs(role: Role, leastRole: Role): boolean {
  return roles.indexOf(role) >= roles.indexOf(leastRole);
}

/** Fleets of one key at most. */
const mostFleets = 100;

export const fleetIdSchema = z
  .string()
  .regex(/^[a-z0-9][a-z0-9-]{0,39}$/, 'expected up to 40 small letters, digits and hyphens')
  .meta({ description: 'Small letters, digits and hyphens.' });

/** Fleets whose machines are seen: all, those of later too, or the ones named. */
export const fleetScopeSchema = z.union([z.literal('all'), z.array(fleetIdSchema).max(mostFleets)]);

const name = z.string().trim().min(1).max(80);

export const callerSchema = z
  .object({
    keyId: z.string(),
    name: z.string(),
    role: z.enum(roles),
    fleets: fleetScopeSchema,
    /** Whether somebody signed in; without keys this computer itself is let in without. */
    isSignedIn: z.boolean(),
  })
  .meta({ id: 'Caller', description: 'Who sends the request.' });

export const sessionBodySchema = z.strictObject({
  key: z.string().min(1).max(8192).meta({ description: 'An API key, or a token of the identity provider.' }),
});

const lifeS = 400 * 86_400;

export const newKeySchema = z.strictObject({
  name,
  role: z.enum(roles),
  fleets: fleetScopeSchema.default('all'),
  expiresInS: z
    .number()
    .int()
    .min(60)
    .max(lifeS)
    .nullable()
    .default(null)
    .meta({ description: 'Seconds until it expires; null is never.' }),
});

export const rotationSchema = z.strictObject({
  overlapS: z
    .number()
    .int()
    .min(0)
    .max(30 * 86_400)
    .default(86_400)
    .meta({ description: 'Seconds for which the secret of before stays good as well.' }),
});

export const keySchema = z
  .object({
    keyId: z.string(),
    name: z.string(),
    role: z.enum(roles),
    fleets: fleetScopeSchema,
    createdAt: instantSchema,
    createdBy: z.string(),
    expiresAt: instantSchema.nullable(),
    revokedAt: instantSchema.nullable(),
    lastUsedAt: instantSchema.nullable(),
    state: z.enum(['live', 'expired', 'revoked']),
    secrets: z.array(
      z.object({
        hint: z.string().meta({ description: 'How the secret begins.' }),
        madeAt: instantSchema,
        until: instantSchema.nullable().meta({ description: 'End of the overlap with its successor.' }),
      }),
    ),
  })
  .meta({ id: 'ApiKey' });

export const freshKeySchema = keySchema
  .extend({ key: z.string().nullable().meta({ description: 'The whole key; shown this once, null when repeated.' }) })
  .meta({ id: 'FreshApiKey' });

export const keyListSchema = z.object({ items: z.array(keySchema) });

export const fleetSchema = z
  .object({ fleetId: fleetIdSchema, name: z.string(), createdAt: instantSchema, machines: z.number().int() })
  .meta({ id: 'Fleet' });
export const fleetListSchema = z.object({ items: z.array(fleetSchema) });
export const newFleetSchema = z.strictObject({ fleetId: fleetIdSchema, name });
export const fleetChangeSchema = z.strictObject({ name });

export const auditEntrySchema = z
  .object({
    number: z.number().int(),
    at: instantSchema,
    actorId: z.string(),
    actorName: z.string(),
    action: z.string().meta({ description: 'Method and address of a route, or what happened in words.' }),
    target: z.string(),
    fleetId: z.string().nullable(),
    detail: z.string().meta({ description: 'JSON, without secrets.' }),
    hash: z.string().meta({ description: 'SHA-256 over the hash of the entry before and this entry, in hexadecimal.' }),
  })
  .meta({ id: 'AuditEntry' });
export const auditListSchema = z.object({ items: z.array(auditEntrySchema), nextCursor: z.string().nullable() });

export const auditQuerySchema = z.strictObject({
  limit: z.coerce.number().int().min(1).max(500).default(100),
  cursor: z.string().max(300).optional(),
  actor: z.string().max(120).optional(),
  from: z.iso.datetime({ offset: true }).optional(),
  to: z.iso.datetime({ offset: true }).optional(),
});

export const auditCheckSchema = z.object({
  entries: z.number().int(),
  brokenAt: z.number().int().nullable().meta({ description: 'First entry that does not follow from the one before.' }),
});

export type CallerDocument = z.output<typeof callerSchema>;
export type FleetScopeDocument = z.output<typeof fleetScopeSchema>;
export type KeyDocument = z.output<typeof keySchema>;
export type FreshKeyDocument = z.output<typeof freshKeySchema>;
export type FleetDocument = z.output<typeof fleetSchema>;
export type AuditEntryDocument = z.output<typeof auditEntrySchema>;
