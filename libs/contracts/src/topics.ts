/** Topics of version 1: their names, their messages, and what a message may hold at most. Key of each: the machine id. */

import { alertSteps, conditionStates, notices, quietReasons, suppressions } from '@warmbrick/alerting';
import { severities } from '@warmbrick/analysis';
import { z } from 'zod';
import { findingSchema, instantSchema } from './replay-document.js';

/** Names of the topics. */
export const topics = {
  samples: 'telemetry.samples.v1',
  faults: 'telemetry.faults.v1',
  rejects: 'telemetry.rejects.v1',
  findings: 'aftertreatment.findings.v1',
  alerts: 'aftertreatment.alerts.v1',
} as const;

export type TopicName = (typeof topics)[keyof typeof topics];

/** Bounds of one message. Source: design decision; a packet of an hour at 1 Hz with every channel stays below them. */
export const messageLimits = {
  samples: 10_000,
  channels: 64,
  frames: 10_000,
  bytes: 4 * 1024 * 1024,
  /** Fault codes of one report: those that fit into one transfer. Source: SAE J1939-21, 1785 bytes; 4 bytes a code. */
  faultCodes: 445,
  /** Bytes of a payload that a reject keeps; the rest is cut off. */
  rejectedPayloadBytes: 64 * 1024,
} as const;

/** A machine's id: 1 to 100 characters, none of them a control character, a line break or half a surrogate pair. */
export const machineIdPattern = /^[^\p{Cc}\p{Zl}\p{Zp}\p{Cs}]{1,100}$/u;

const machineId = z.string().regex(machineIdPattern).meta({ description: 'Also the key of the message.' });

const time = z
  .union([z.number(), z.iso.datetime({ offset: true })])
  .meta({ description: 'RFC 3339 with an offset, or epoch milliseconds; rounded down to a millisecond.' });

const value = z.number().nullable().meta({ description: 'In the unit of the channel catalogue; null is no value.' });

/** One sample. */
export const sampleMessageSchema = z
  .object({ machineId, time, values: z.record(z.string(), value) })
  .meta({ id: 'SampleMessage' });

/** Many samples as columns; every column is as long as `times`. */
export const packetMessageSchema = z
  .object({
    machineId,
    times: z.array(time).min(1).max(messageLimits.samples),
    channels: z.record(z.string(), z.array(value).max(messageLimits.samples)),
  })
  .meta({ id: 'PacketMessage' });

const frame = z.object({
  time,
  id: z
    .union([z.number().int().min(0).max(0x1fffffff), z.string().regex(/^(0[xX])?[0-9A-Fa-f]{1,8}$/)])
    .meta({ description: 'The 29-bit identifier as a number or in hexadecimal.' }),
  data: z
    .string()
    .regex(/^([0-9A-Fa-f]{2}){0,8}$/)
    .meta({ description: 'Up to 8 bytes in hexadecimal.' }),
});

/** Raw frames of one CAN bus, in order of time. */
export const frameMessageSchema = z
  .object({ machineId, bus: z.string().max(40).optional(), frames: z.array(frame).min(1).max(messageLimits.frames) })
  .meta({ id: 'FrameMessage' });

/** Any message of the samples topic. */
export const samplesMessageSchema = z.union([sampleMessageSchema, packetMessageSchema, frameMessageSchema]);

const lamp = z.enum(['off', 'on', 'reserved', 'unavailable']);

/** The list of fault codes that one controller reported at one time. */
export const faultMessageSchema = z
  .object({
    machineId,
    time,
    sourceAddress: z.number().int().min(0).max(253),
    kind: z.enum(['active', 'previously-active']),
    lamps: z.object({ malfunction: lamp, redStop: lamp, amberWarning: lamp, protect: lamp }).optional(),
    flash: z.number().int().min(0).max(255).optional(),
    codes: z
      .array(
        z.object({
          spn: z.number().int().min(0).max(0x7ffff),
          fmi: z.number().int().min(0).max(31),
          occurrenceCount: z.number().int().min(0).max(126).nullable().default(null),
          conversionMethod: z.union([z.literal(0), z.literal(1)]).default(0),
        }),
      )
      .max(messageLimits.faultCodes),
    isPartial: z
      .literal(true)
      .optional()
      .meta({ description: 'Only some codes were told, as feeds do: those that are missing did not clear.' }),
  })
  .meta({ id: 'FaultMessage' });

/** Why a message was not taken, or not whole. Codes are never reused. */
export const rejectReasons = [
  'bad-json',
  'bad-shape',
  'bad-time',
  'future-time',
  'too-large',
  'unknown-form',
  'no-channels',
] as const;
export type RejectReason = (typeof rejectReasons)[number];

/** A message that was not taken, or not whole. */
export const rejectMessageSchema = z
  .object({
    /** When it was put aside. */
    at: instantSchema,
    reason: z.enum(rejectReasons),
    detail: z.string(),
    position: z.object({
      /** Kind and name of the source, such as `kafka` or the name of a gateway. */
      source: z.string(),
      topic: z.string(),
      partition: z.number().int(),
      offset: z.number().int(),
    }),
    key: z.string().nullable(),
    payload: z.base64(),
    payloadBytes: z.number().int(),
    isTruncated: z.boolean(),
  })
  .meta({ id: 'RejectMessage' });

/** A finding that was made or made anew, or one that no longer holds. */
export const findingMessageSchema = z
  .discriminatedUnion('type', [
    z.object({ type: z.literal('made'), machineId, finding: findingSchema }),
    z.object({ type: z.literal('withdrawn'), machineId, findingId: z.string() }),
  ])
  .meta({ id: 'FindingMessage' });

const figure = z.union([z.number(), z.boolean(), z.string(), z.null()]);

/** One step of an alert's life, with the alert as it stands after it. Words: ISA-18.2 and OPC UA Part 9. */
export const alertMessageSchema = z
  .object({
    machineId,
    /** From raise to clear; the same again when the data is replayed. */
    episodeId: z.string(),
    /** Rises by one with each step; with `episodeId` the message's identity, the same at each delivery. */
    sequence: z.number().int().min(0),
    step: z.enum(alertSteps),
    /** `page`: somebody has to be reached now; `inform`: worth a line; `quiet`: only for the record. */
    notice: z.enum(notices),
    quietBecause: z.enum(quietReasons).nullable(),
    rule: z.string(),
    title: z.string(),
    text: z.string(),
    advice: z.string().nullable(),
    caution: z.string().nullable(),
    severity: z.enum(severities),
    from: z.enum(conditionStates),
    to: z.enum(conditionStates),
    group: z.object({
      /** The same for alerts that belong into one digest: the site, or the machine where none is known. */
      key: z.string(),
      site: z.string().nullable(),
      machineName: z.string(),
      machineClass: z.string(),
      timeZone: z.string(),
    }),
    isAcknowledged: z.boolean(),
    acknowledgedBy: z.string().nullable(),
    assignee: z.string().nullable(),
    shelvedUntil: instantSchema.nullable(),
    suppression: z.enum(suppressions),
    escalationLevel: z.number().int().min(0),
    escalateTo: z.string().nullable(),
    /** Machine time: when the condition began and ended, and of this step. */
    startedAt: instantSchema,
    endedAt: instantSchema.nullable(),
    at: instantSchema,
    /** Wall clock: when the service learned of it. */
    learnedAt: instantSchema,
    durationS: z.number().min(0),
    /** About the past: learned from data that came late. Never pages. */
    isPast: z.boolean(),
    isWithdrawn: z.boolean(),
    /** Sequence of the step that this one corrects. */
    corrects: z.number().int().min(0).nullable(),
    actor: z.string().nullable(),
    note: z.string().nullable(),
    findingId: z.string().nullable(),
    figures: z.record(z.string(), figure),
    thresholdSet: z.string().nullable(),
    /** Paths below the address of the service. */
    links: z.object({ alert: z.string(), page: z.string(), machine: z.string() }),
  })
  .meta({ id: 'AlertMessage' });

export type SampleMessage = z.input<typeof sampleMessageSchema>;
export type PacketMessage = z.input<typeof packetMessageSchema>;
export type FrameMessage = z.input<typeof frameMessageSchema>;
export type FaultMessage = z.input<typeof faultMessageSchema>;
export type RejectMessage = z.output<typeof rejectMessageSchema>;
export type FindingMessage = z.output<typeof findingMessageSchema>;
export type AlertMessage = z.output<typeof alertMessageSchema>;
