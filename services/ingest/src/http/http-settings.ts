/** Settings of telemetry over HTTP. */

import { z } from 'zod';

/** Source of all defaults: engineering judgement. */
export const httpIntakeSettingsSchema = z.strictObject({
  /** Bodies held and worked at once; more are told to come again. Each may take 16 MiB. */
  bodies: z.number().int().min(1).max(256).default(8),
  /** How long a sender waits for the commit before it is told to come again, ms; the work goes on meanwhile. */
  answerWithinMs: z.number().int().min(100).max(600_000).default(20_000),
  /** Idempotency keys remembered at most. */
  rememberedKeys: z.number().int().min(1).max(1_000_000).default(10_000),
  /** How long an idempotency key is remembered, ms. */
  rememberMs: z
    .number()
    .int()
    .min(1000)
    .max(7 * 86_400_000)
    .default(86_400_000),
});

export type HttpIntakeSettings = z.output<typeof httpIntakeSettingsSchema>;
