/** Settings of one provider of a standard feed. */

import { machineIdPattern } from '@warmbrick/contracts';
import { z } from 'zod';

const secret = z.string().min(1).meta({ secret: true });

/** Source: RFC 7617 (basic), RFC 6750 (bearer); `header` for keys in a header of the provider's own. */
const authSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('basic'), user: z.string().min(1), password: secret }),
  z.strictObject({ kind: z.literal('bearer'), token: secret }),
  z.strictObject({ kind: z.literal('header'), name: z.string().regex(/^[A-Za-z0-9-]{1,64}$/), value: secret }),
]);

const baseUrl = z
  .url({ protocol: /^https?$/ })
  .refine(
    (text) => !text.startsWith('http:') || isLoopback(new URL(text).hostname),
    'use https; http is for this computer only',
  )
  .refine((text) => new URL(text).username === '', 'put user and password into auth');

/** Source of all defaults: engineering judgement, where nothing else is said. */
export const feedProviderSchema = z.strictObject({
  /** Our name of the provider, for logs. */
  name: z.string().min(1).max(60),
  /** What comes before `/Fleet/1` in its addresses. */
  baseUrl,
  auth: authSchema.optional(),
  /** XML, or JSON of the same names. */
  format: z.enum(['xml', 'json']).default('xml'),
  /** Requests a minute at most. */
  perMinute: z.number().min(0.1).max(6000).default(30),
  /** Minutes from one round to the next. Providers renew their figures every few minutes at best. */
  everyMin: z.number().min(1).max(1440).default(15),
  /** Machine ids by EquipmentID, SerialNumber or PIN; what is not listed is called as `nameBy` says. */
  machines: z.record(z.string().min(1), z.string().regex(machineIdPattern)).default({}),
  nameBy: z.enum(['equipment-id', 'serial-number']).default('equipment-id'),
  /** Whether machines that `machines` does not list are taken too. */
  takesUnlisted: z.boolean().default(true),
  /** How the address of a machine's time series is made; null asks for no faults. */
  faultsBy: z.enum(['id', 'make-model-serial']).nullable().default('id'),
  /** Whether the provider writes the fixed words of addresses in small letters; they differ in that. */
  lowerCasePaths: z.boolean().default(false),
  /** Address of the controller that a code without one is ascribed to. Source: SAE J1939-81: 0 is engine 1. */
  sourceAddress: z.number().int().min(0).max(253).default(0),
  /** Hours of faults that the first round asks for. */
  lookBackH: z.number().min(1).max(720).default(24),
  /** Hours that each round asks for again, because machines report late. */
  overlapH: z.number().min(0).max(168).default(6),
  timeoutMs: z.number().int().min(100).max(300_000).default(30_000),
  /** Bytes of one answer, decompressed. */
  answerBytes: z
    .number()
    .int()
    .min(1024)
    .max(256 * 1024 * 1024)
    .default(16 * 1024 * 1024),
  pages: z.number().int().min(1).max(100_000).default(1000),
  /** Tries of one request, and the waits between them, which double. */
  tries: z.number().int().min(1).max(20).default(5),
  firstRetryMs: z.number().int().min(1).default(1000),
  longestRetryMs: z.number().int().min(1).default(60_000),
});

export type FeedProvider = z.output<typeof feedProviderSchema>;
export type FeedProviderInput = z.input<typeof feedProviderSchema>;

/** Source: RFC 1122, 3.2.1.3; RFC 4291, 2.5.3; RFC 6761, 6.3. */
function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '[::1]' || /^127(\.\d{1,3}){3}$/.test(host);
}
