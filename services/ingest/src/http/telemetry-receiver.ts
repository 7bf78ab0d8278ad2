/** What stands behind POST /v1/telemetry and POST /v1/faults: body in, samples to the intake, receipt out. */

import { createHash } from 'node:crypto';
import {
  type TelemetryAnswer,
  type TelemetryReceipt,
  type TelemetryReceiver,
  type TelemetryRequest,
  telemetryLimits,
} from '@warmbrick/contracts';
import type { Intake, IntakeOrigin } from '../intake.js';
import { readCsvBody } from '../messages/read-csv-body.js';
import { type ReadMessages, readMessages } from '../messages/read-messages.js';
import { splitJson, splitLines } from '../messages/split-messages.js';
import { type AnswerMemory, createAnswerMemory } from './answer-memory.js';
import { type HttpIntakeSettings, httpIntakeSettingsSchema } from './http-settings.js';
import { readBody } from './read-body.js';

export interface TelemetryReceiverOptions {
  readonly intake: Intake;
  /** Default: those of the schema. */
  readonly settings?: Partial<HttpIntakeSettings>;
  /** The wall clock, UTC epoch ms. */
  readonly now?: () => number;
}

interface Receiver {
  readonly intake: Intake;
  readonly settings: HttpIntakeSettings;
  readonly now: () => number;
  readonly memory: AnswerMemory;
  inWork: number;
}

type Refusal = Extract<TelemetryAnswer, { outcome: 'refused' }>;
type BodyForm = 'json' | 'ndjson' | 'csv';

const origin: IntakeOrigin = { way: 'http', name: 'POST /v1' };
const formByType: Readonly<Record<string, BodyForm>> = {
  'application/json': 'json',
  'application/x-ndjson': 'ndjson',
  'text/csv': 'csv',
};

/** Makes the receiver. Errors: none of its own; `receive` throws what the intake throws. */
export function createTelemetryReceiver(options: TelemetryReceiverOptions): TelemetryReceiver {
  const settings = httpIntakeSettingsSchema.parse(options.settings ?? {});
  const now = options.now ?? Date.now;
  const memory = createAnswerMemory({ most: settings.rememberedKeys, keepMs: settings.rememberMs, now });
  const receiver: Receiver = { intake: options.intake, settings, now, memory, inWork: 0 };
  return { receive: (request) => receive(receiver, request) };
}

async function receive(receiver: Receiver, request: TelemetryRequest): Promise<TelemetryAnswer> {
  const { settings } = receiver;
  const form = bodyForm(request);
  if (typeof form !== 'string') return form;
  if (receiver.inWork >= settings.bodies) return refuse('too-busy', 'Too many bodies are in work.');
  receiver.inWork++;
  const work = takeIn(receiver, request, form).finally(() => {
    receiver.inWork--;
  });
  return withinTime(work, settings.answerWithinMs);
}

function bodyForm({ contentType, kind }: TelemetryRequest): BodyForm | Refusal {
  const type = (contentType ?? '').split(';', 1)[0]?.trim().toLowerCase() ?? '';
  const form = formByType[type];
  if (form !== undefined && !(form === 'csv' && kind === 'faults')) return form;
  const taken = kind === 'faults' ? 'application/json or application/x-ndjson' : Object.keys(formByType).join(', ');
  return refuse('unsupported', `Send the body as ${taken}.`);
}

async function takeIn(receiver: Receiver, request: TelemetryRequest, form: BodyForm): Promise<TelemetryAnswer> {
  const body = await readBody(request.body, request.contentEncoding, telemetryLimits.bodyBytes);
  if (body.form !== 'body') return refusals[body.form];
  const job = () => takeBody(receiver, request, { form, bytes: body.bytes });
  const { idempotencyKey: key } = request;
  if (key === undefined) return job();
  const answer = await receiver.memory.answer(
    `${request.sender ?? ''} ${key}`,
    fingerprintOf(request, form, body.bytes),
    job,
  );
  return (
    answer ?? refuse('key-reused', 'This Idempotency-Key came before with another body. Use a new key for each body.')
  );
}

async function takeBody(
  { intake, now }: Receiver,
  { kind, machineId, foreignMachines }: TelemetryRequest,
  { form, bytes }: { form: BodyForm; bytes: Buffer },
): Promise<TelemetryAnswer> {
  let read: ReadMessages;
  let duplicates: number | undefined;
  if (form === 'csv') {
    const csv = await readCsvBody(bytes, machineId);
    duplicates = csv.duplicates;
    read = csv;
  } else {
    const messages = form === 'json' ? splitJson(bytes) : splitLines(bytes);
    if (messages === null) return refuse('unreadable', 'The body is not JSON in UTF-8.');
    read = await readMessages(kind, messages, now());
  }
  const accepted = kind === 'faults' ? read.reports.length : countSamples(read);
  if (accepted === 0 && read.reports.length === 0) return nothingUsable(read);
  const foreign = (await foreignMachines?.(machinesOf(read))) ?? [];
  if (foreign.length > 0) return refuse('not-yours', notYours(foreign));
  // Faults first: they come no later than the samples that reach their time.
  if (read.reports.length > 0) await intake.faults(read.reports, origin);
  if (read.blocks.length > 0) await intake.samples(read.blocks, origin);
  const receipt = receiptOf(read, accepted, duplicates);
  return { outcome: 'taken', isCommitted: intake.settles === 'committed', receipt };
}

function machinesOf({ blocks, reports }: ReadMessages): string[] {
  return [...new Set([...blocks, ...reports].map(({ machineId }) => machineId))];
}

/** Machines that a refusal names. */
const mostNamed = 10;

function notYours(foreign: readonly string[]): string {
  return `Nothing was taken: your key is not for the fleet of ${foreign.slice(0, mostNamed).join(', ')}.`;
}

function countSamples({ blocks }: ReadMessages): number {
  return blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
}

function receiptOf(read: ReadMessages, accepted: number, duplicates: number | undefined): TelemetryReceipt {
  return {
    accepted,
    ...(duplicates === undefined ? {} : { duplicates }),
    rejected: read.rejects.total(),
    rejects: [...read.rejects.listed()],
    droppedValues: read.droppedValues,
  };
}

function nothingUsable({ rejects }: ReadMessages): Refusal {
  const [first] = rejects.listed();
  const detail =
    first === undefined
      ? 'The body holds no message.'
      : `Nothing of the body could be taken; ${first.where}: ${first.detail}.`;
  return { ...refuse('unreadable', detail), rejects: rejects.listed() };
}

/** The body after decompression, so that the same content compressed anew is the same. */
function fingerprintOf({ kind, machineId }: TelemetryRequest, form: BodyForm, bytes: Buffer): string {
  const head = JSON.stringify([kind, form, machineId ?? null]);
  return createHash('sha256').update(head).update(bytes).digest('base64');
}

/** What is still in work after the time goes on by itself: to send it again does no harm. */
async function withinTime(work: Promise<TelemetryAnswer>, mostMs: number): Promise<TelemetryAnswer> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<TelemetryAnswer>((resolve) => {
    const answer = refuse('too-busy', 'It is not stored yet. Send it again; to send it twice does no harm.');
    timer = setTimeout(() => resolve(answer), mostMs);
  });
  // Nobody listens to it any more once the answer is given.
  work.catch(() => {});
  try {
    return await Promise.race([work, late]);
  } finally {
    clearTimeout(timer);
  }
}

function refuse(why: Refusal['why'], detail: string): Refusal {
  return { outcome: 'refused', why, detail, rejects: [] };
}

const refusals = {
  'too-large': refuse(
    'too-large',
    `At most ${telemetryLimits.bodyBytes} bytes are taken, decompressed. Send it in pieces.`,
  ),
  unsupported: refuse('unsupported', 'Of content encodings only gzip is read.'),
  damaged: refuse('unreadable', 'The body is not gzip, or it is damaged or cut short.'),
  'cut-short': refuse('unreadable', 'The body ended early.'),
} as const;
