/** Bodies and queries about destinations of alerts and what was sent to them. */

import { severities } from '@warmbrick/analysis';
import { z } from 'zod';
import { instantSchema } from './replay-document.js';

const name = z.string().min(1).max(80);
const names = z.array(z.string().min(1).max(120)).max(500).default([]);
const clock = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'expected a time of day such as "22:00"');
const mailAddress = /^[^\s@,<>"]{1,64}@[^\s@,<>"]{1,190}$/;
const timeZone = z
  .string()
  .max(64)
  .refine(isTimeZone, { message: 'not a time zone of the IANA database, such as "Europe/Oslo"' });

const filters = {
  leastSeverity: z.enum(severities).default('warning'),
  sites: names,
  machineIds: names,
  rules: names,
  quiet: z.strictObject({ timeZone, from: clock, to: clock }).nullable().default(null),
  includesPast: z.boolean().default(false),
  isEnabled: z.boolean().default(true),
};

const shared = { name, fleetId: z.string().min(1).max(40).default('main'), ...filters };

/** A destination as it is made or replaced. */
export const destinationInputSchema = z
  .discriminatedUnion('kind', [
    z.strictObject({
      kind: z.literal('webhook'),
      address: z.url({ protocol: /^https?$/, error: 'expected an address that begins with https://' }).max(2000),
      ...shared,
    }),
    z.strictObject({
      kind: z.literal('mail'),
      address: z
        .string()
        .max(2000)
        .refine((text) => text.split(',').every((part) => mailAddress.test(part.trim())), {
          message: 'expected mail addresses with commas between',
        }),
      digestMinutes: z.number().int().min(5).max(1440).nullable().default(null),
      ...shared,
    }),
    z.strictObject({
      kind: z.literal('mqtt'),
      address: z
        .string()
        .min(1)
        .max(200)
        .regex(/^[^#+\0]+$/, 'expected a topic without wildcards'),
      ...shared,
    }),
  ])
  .meta({ id: 'NewDestination' });

/** A destination as it is shown: its secrets are not. */
export const destinationSchema = z
  .object({
    id: z.string(),
    kind: z.enum(['webhook', 'mail', 'mqtt']),
    address: z.string(),
    name: z.string(),
    fleetId: z.string(),
    leastSeverity: z.enum(severities),
    sites: z.array(z.string()),
    machineIds: z.array(z.string()),
    rules: z.array(z.string()),
    quiet: z.object({ timeZone: z.string(), from: z.string(), to: z.string() }).nullable(),
    digestMinutes: z.number().int().nullable(),
    includesPast: z.boolean(),
    isEnabled: z.boolean(),
    /** Secrets that sign now: two while a receiver changes over, none for mail and MQTT. */
    liveSecrets: z.number().int(),
  })
  .meta({ id: 'Destination' });

/** A destination with the secret that signs from now on, shown this once. */
export const destinationWithSecretSchema = destinationSchema
  .extend({ secret: z.string().nullable() })
  .meta({ id: 'DestinationWithSecret' });

export const destinationListSchema = z.object({ items: z.array(destinationSchema) });

export const deliveryStates = ['waiting', 'sent', 'dead'] as const;

export const deliveryListQuerySchema = z.strictObject({
  limit: z.coerce.number().int().min(1).max(200).default(50),
  cursor: z.string().max(300).optional(),
  destinationId: z.string().max(80).optional(),
  machineId: z.string().max(120).optional(),
  state: z.enum(deliveryStates).optional(),
});

export const deliverySchema = z
  .object({
    id: z.string(),
    destinationId: z.string(),
    machineId: z.string(),
    episodeId: z.string(),
    subject: z.string(),
    state: z.enum(deliveryStates),
    attempts: z.number().int(),
    createdAt: instantSchema,
    firstTriedAt: instantSchema.nullable(),
    sentAt: instantSchema.nullable(),
    /** Of the next try, while it waits. */
    dueAt: instantSchema.nullable(),
  })
  .meta({ id: 'Delivery' });

export const deliveryListSchema = z.object({ items: z.array(deliverySchema), nextCursor: z.string().nullable() });

/** What happened to one delivery, try by try. */
export const deliveryLogSchema = z.object({
  items: z.array(
    z.object({
      at: instantSchema,
      result: z.enum(['taken', 'refused', 'failed']),
      status: z.string(),
      detail: z.string(),
      tookMs: z.number().int(),
    }),
  ),
});

export type DestinationInput = z.output<typeof destinationInputSchema>;
export type DestinationDocument = z.output<typeof destinationSchema>;
export type DeliveryDocument = z.output<typeof deliverySchema>;
export type DeliveryLog = z.output<typeof deliveryLogSchema>;

function isTimeZone(zone: string): boolean {
  try {
    return new Intl.DateTimeFormat('en', { timeZone: zone }).resolvedOptions().timeZone.length > 0;
  } catch {
    return false;
  }
}
