/** MQTT messages to the intake, until they are safe or known to be of no use. */

import { messageLimits, type RejectedMessage } from '@warmbrick/contracts';
import { OperatingError, retrying } from '@warmbrick/runtime';
import { gunzip } from '../http/read-body.js';
import type { IngestLogger } from '../ingest-types.js';
import type { Intake, IntakeOrigin } from '../intake.js';
import { emptyReading, type ReadMessages, readMessages } from '../messages/read-messages.js';
import type { IntakeReject, IntakeRejectReason } from '../messages/reject-list.js';
import { splitJson } from '../messages/split-messages.js';
import type { TopicPattern } from './topic-pattern.js';

export interface MqttMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
}

/** Called for everything that was not taken, with the message it was in; what it throws is tried again like a failed commit. */
export type OnReject = (reject: IntakeReject, message: MqttMessage) => void | Promise<void>;

export interface MessageTaker {
  readonly intake: Intake;
  readonly origin: IntakeOrigin;
  readonly patterns: { readonly samples: TopicPattern; readonly faults: TopicPattern };
  readonly logger: IngestLogger;
  readonly onReject: OnReject;
  readonly now: () => number;
  readonly retry: { readonly firstMs: number; readonly longestMs: number; readonly onRetry: () => void };
}

export interface MessageOutcome {
  /** `refused`: the intake does not take it, ever. `unusable`: nothing in it can be read. Both are of no use a second time. */
  readonly end: 'taken' | 'unusable' | 'refused';
  readonly samples: number;
  readonly reports: number;
  readonly rejects: ReadonlyMap<IntakeRejectReason, number>;
}

/** Source: RFC 1952, 2.3.1. */
const gzipHead = [0x1f, 0x8b] as const;

/**
 * Takes messages to their end, in one call of the intake; resolves when they are safe, or when it is certain that they never
 * will be and their rejects are told. One outcome a message.
 *
 * Errors: what failed last, once `signal` says that waiting is over: the messages may or may not be safe.
 */
export async function takeMessages(
  taker: MessageTaker,
  messages: readonly MqttMessage[],
  signal: AbortSignal,
): Promise<MessageOutcome[]> {
  const reads: ReadMessages[] = [];
  for (const message of messages) reads.push(await readMessage(taker, message));
  const untilItWorks = <T>(job: () => Promise<T>) =>
    retrying(job, {
      ...taker.retry,
      signal,
      onRetry: (error, waitMs) => {
        taker.retry.onRetry();
        taker.logger.warn({ code: error.code, waitMs }, 'messages are not stored yet; trying again');
      },
    });
  const refusal = await untilItWorks(() => store(taker, reads));
  // One of them is to blame: alone each shows which.
  if (refusal !== null && messages.length > 1) return takeSingly(taker, messages, signal);
  const outcomes: MessageOutcome[] = [];
  for (const [at, read] of reads.entries()) {
    if (refusal !== null) read.rejects.add(refusal);
    for (const reject of read.rejects.listed()) {
      await untilItWorks(() => tell(taker, reject, messages[at] as MqttMessage));
    }
    outcomes.push(outcomeOf(read, refusal !== null));
  }
  return outcomes;
}

async function takeSingly(
  taker: MessageTaker,
  messages: readonly MqttMessage[],
  signal: AbortSignal,
): Promise<MessageOutcome[]> {
  const outcomes: MessageOutcome[] = [];
  for (const message of messages) outcomes.push(...(await takeMessages(taker, [message], signal)));
  return outcomes;
}

function outcomeOf(read: ReadMessages, isRefused: boolean): MessageOutcome {
  const rejects = read.rejects.byReason();
  if (isRefused) return { end: 'refused', samples: 0, reports: 0, rejects };
  const samples = read.blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
  const isUsable = samples + read.reports.length > 0 || read.rejects.total() === 0;
  return { end: isUsable ? 'taken' : 'unusable', samples, reports: read.reports.length, rejects };
}

/** A listener that fails for good does not keep the message from its end: it would come again for ever. */
async function tell(taker: MessageTaker, reject: IntakeReject, message: MqttMessage) {
  try {
    await taker.onReject(reject, message);
  } catch (error) {
    if (error instanceof OperatingError && error.isRetriable) throw error;
    taker.logger.error({ err: error, reason: reject.reason }, 'a reject could not be kept');
  }
}

async function readMessage(taker: MessageTaker, message: MqttMessage): Promise<ReadMessages> {
  const { patterns } = taker;
  const samplesOf = patterns.samples.match(message.topic);
  const machineId = samplesOf ?? patterns.faults.match(message.topic);
  // It clears what the broker retained. Source: MQTT 5.0, 3.3.1.3.
  if (message.payload.length === 0) return emptyReading();
  if (machineId === null)
    return rejected({ reason: 'unknown-form', detail: 'the topic is none of those that were asked for' });
  const payload = await decompressed(message.payload);
  if (!(payload instanceof Uint8Array)) return rejected(payload);
  const pieces = splitJson(payload);
  if (pieces === null) return rejected({ reason: 'bad-json', detail: 'the payload is not JSON in UTF-8' });
  const read = await readMessages(samplesOf === null ? 'faults' : 'samples', pieces, taker.now());
  return machineId === '' ? read : onlyOf(machineId, read);
}

async function decompressed(payload: Uint8Array): Promise<Uint8Array | Pick<RejectedMessage, 'reason' | 'detail'>> {
  if (gzipHead.some((byte, i) => payload[i] !== byte)) return payload;
  const read = await gunzip(once(payload), messageLimits.bytes);
  if (read.form === 'body') return read.bytes;
  return read.form === 'too-large'
    ? { reason: 'too-large', detail: `more than ${messageLimits.bytes} bytes, decompressed` }
    : { reason: 'bad-json', detail: 'the payload begins like gzip and is damaged' };
}

async function* once(payload: Uint8Array): AsyncGenerator<Uint8Array> {
  yield payload;
}

/** A gateway that may write to the topic of one machine may not speak for another. */
function onlyOf(machineId: string, read: ReadMessages): ReadMessages {
  const isOwn = (each: { machineId: string }) => each.machineId === machineId;
  const foreign = [...read.blocks, ...read.reports].find((each) => !isOwn(each));
  if (foreign === undefined) return read;
  const detail = `the message speaks for "${foreign.machineId.slice(0, 40)}", its topic for "${machineId.slice(0, 40)}"`;
  read.rejects.add({ reason: 'machine-mismatch', where: 'message', detail });
  return { ...read, blocks: read.blocks.filter(isOwn), reports: read.reports.filter(isOwn) };
}

function rejected(why: Pick<RejectedMessage, 'reason' | 'detail'>): ReadMessages {
  const read = emptyReading();
  read.rejects.add({ ...why, where: 'message' });
  return read;
}

/** Null when it is safe; a reject when the pipeline will never take it. Errors: what passes, and what says nothing about the message. */
async function store(
  { intake, origin, logger }: MessageTaker,
  reads: readonly ReadMessages[],
): Promise<IntakeReject | null> {
  const reports = reads.flatMap((read) => read.reports);
  const blocks = reads.flatMap((read) => read.blocks);
  try {
    // Faults first: they come no later than the samples that reach their time.
    if (reports.length > 0) await intake.faults(reports, origin);
    if (blocks.length > 0) await intake.samples(blocks, origin);
    return null;
  } catch (error) {
    if (error instanceof OperatingError && (error.isRetriable || error.code === 'ingest-closed')) throw error;
    logger.error({ err: error }, 'the pipeline refuses messages');
    const detail = error instanceof OperatingError ? error.message : 'it cannot be worked';
    return { reason: 'refused', where: 'message', detail };
  }
}
