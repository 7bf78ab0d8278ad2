/** Telemetry sent over HTTP: what the bodies are, what is answered, and what stands behind the routes. */

import { z } from 'zod';
import { faultMessageSchema, machineIdPattern, samplesMessageSchema } from './topics.js';

/** Bounds of one request. Source: engineering judgement; an hour of a hundred machines at 1 Hz stays below 16 MiB. */
export const telemetryLimits = {
  /** Bytes of a body, decompressed. */
  bodyBytes: 16 * 1024 * 1024,
  /** Rejects that an answer lists; all are counted. */
  rejectsListed: 50,
  /** Characters of an idempotency key. */
  keyLength: 255,
} as const;

/** Body of POST /v1/telemetry as JSON. */
export const telemetryBodySchema = z.union([samplesMessageSchema, z.array(samplesMessageSchema).min(1)]);

/** Body of POST /v1/faults as JSON. */
export const faultsBodySchema = z.union([faultMessageSchema, z.array(faultMessageSchema).min(1)]);

export const telemetryQuerySchema = z.strictObject({
  machineId: z
    .string()
    .regex(machineIdPattern)
    .optional()
    .meta({ description: 'The machine of a CSV without a column `machineId`.' }),
});

export const telemetryHeadersSchema = z.looseObject({
  'idempotency-key': z
    .string()
    .min(1)
    .max(telemetryLimits.keyLength)
    .optional()
    .meta({ description: 'The same key with the same body gets the first answer again, for 24 hours.' }),
});

/** Something that was not taken: a message, a line, or samples of a message that share a reason. */
export const telemetryRejectSchema = z.object({
  reason: z.string(),
  where: z.string().meta({ description: 'Such as "message 3" or "line 12".' }),
  detail: z.string(),
});

const count = z.number().int().min(0);

/** What became of a body. */
export const telemetryReceiptSchema = z
  .object({
    accepted: count.meta({ description: 'Samples, or fault reports.' }),
    duplicates: count.optional().meta({ description: 'Rows of a CSV for a time that was there already.' }),
    rejected: count.meta({ description: 'Messages, lines or lots of samples that were not taken.' }),
    rejects: z.array(telemetryRejectSchema).max(telemetryLimits.rejectsListed),
    droppedValues: z
      .object({ unknownChannels: count, notNumbers: count, implausible: count })
      .meta({ description: 'Single values of accepted samples that were not taken; unknown channels by column.' }),
  })
  .meta({ id: 'TelemetryReceipt' });

export type TelemetryReject = z.output<typeof telemetryRejectSchema>;
export type TelemetryReceipt = z.output<typeof telemetryReceiptSchema>;

/** One request as the route hands it on. */
export interface TelemetryRequest {
  readonly kind: 'samples' | 'faults';
  readonly contentType: string | undefined;
  readonly contentEncoding: string | undefined;
  readonly idempotencyKey: string | undefined;
  /** For a CSV that names no machine. */
  readonly machineId: string | undefined;
  /** Who sends it; an idempotency key is theirs alone. */
  readonly sender?: string | undefined;
  /** Those of the machines that the sender may not write to; asked before anything is taken. Missing: none. */
  readonly foreignMachines?: ((machineIds: readonly string[]) => Promise<readonly string[]>) | undefined;
  /** The body as it comes, not decompressed. */
  readonly body: AsyncIterable<Uint8Array>;
}

export type TelemetryAnswer =
  | {
      readonly outcome: 'taken';
      /** Whether it is analysed and committed; otherwise it lies safely in a topic and will be. */
      readonly isCommitted: boolean;
      readonly receipt: TelemetryReceipt;
    }
  | {
      readonly outcome: 'refused';
      readonly why: 'unreadable' | 'too-large' | 'unsupported' | 'key-reused' | 'not-yours' | 'too-busy';
      readonly detail: string;
      readonly rejects: readonly TelemetryReject[];
    };

/** What stands behind the routes. */
export interface TelemetryReceiver {
  /** Resolves after the commit, or after the acknowledged produce. Errors: those that are ours, not the sender's. */
  receive(request: TelemetryRequest): Promise<TelemetryAnswer>;
}
