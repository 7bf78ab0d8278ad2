/** Messages of one partition -> samples and fault reports by machine, and rejects with their places. */

import { setImmediate as breathe } from 'node:timers/promises';
import { decodeFaultMessage, decodeSampleMessage, type RejectReason } from '@warmbrick/contracts';
import type { IncomingMessage, PartitionBatch } from '@warmbrick/kafka';
import { type BlockGatherer, createBlockGatherer, type FaultReport, type SampleBlock } from '@warmbrick/signals';
import type { RejectedMessage } from '@warmbrick/store';
import { withoutFuture } from '../future-samples.js';
import type { FrameTails } from '../messages/frame-tails.js';
import { framesToSamples } from '../messages/frames-to-samples.js';

type TopicKind = 'samples' | 'faults';

export interface DecodeOptions {
  readonly kind: TopicKind;
  /** Name of the cursor that rejects belong to. */
  readonly source: string;
  /** The wall clock, UTC epoch ms: a producer's own stamp may be as wrong as the times in its message. */
  readonly nowMs: number;
  /** Samples later than the clock by more than this are put aside. */
  readonly futureMs: number;
  /** Transfers that the batch before broke off. */
  readonly tails: FrameTails;
}

export interface DecodedBatch {
  /** Blocks of each machine, in the order of arrival. */
  readonly blocks: ReadonlyMap<string, SampleBlock[]>;
  readonly reports: Map<string, FaultReport[]>;
  readonly rejects: RejectedMessage[];
  readonly samples: number;
}

/** The same while it is made. */
interface Decoding extends Omit<DecodedBatch, 'blocks'> {
  readonly gatherers: Map<string, BlockGatherer>;
  samples: number;
}

/** What was wrong with one message; a message is one reject, whatever number of things is wrong with it. */
interface Fault {
  readonly reason: RejectReason;
  readonly detail: string;
}

/** Bytes decoded before others get a turn. Source: engineering judgement: a few milliseconds. */
const bytesPerTurn = 256 * 1024;

/**
 * Decodes a batch.
 *
 * Range: the key of each message has to be the id of its machine, since the key decides who analyses it.
 * Errors: none; what cannot be taken is a reject, whatever the bytes are.
 */
export async function decodeBatch(batch: PartitionBatch, options: DecodeOptions): Promise<DecodedBatch> {
  const decoded: Decoding = { gatherers: new Map(), reports: new Map(), rejects: [], samples: 0 };
  let turnBytes = 0;
  for (const message of batch.messages) {
    const faults =
      options.kind === 'samples' ? takeSamples(decoded, message, options) : takeFaults(decoded, message, options);
    const first = faults[0];
    if (first !== undefined) decoded.rejects.push(rejectOf(batch, message, { faults, reason: first.reason, options }));
    turnBytes += message.value?.length ?? 0;
    if (turnBytes < bytesPerTurn) continue;
    turnBytes = 0;
    await breathe();
  }
  const { gatherers, reports, rejects, samples } = decoded;
  const blocks = new Map(Array.from(gatherers, ([machineId, gatherer]) => [machineId, gatherer.blocks()]));
  return { blocks, reports, rejects, samples };
}

const noBytes = new Uint8Array(0);

function takeSamples(to: Decoding, { key, value }: IncomingMessage, options: DecodeOptions): Fault[] {
  const message = decodeSampleMessage(value ?? noBytes, options.nowMs);
  if (message.form === 'reject') return [message];
  const machineId = message.form === 'samples' ? message.block.machineId : message.machineId;
  if (!isKeyOf(key, machineId)) return [wrongKey(key, machineId)];
  const faults: Fault[] = message.leftOut.map(({ reason, count }) => ({ reason, detail: `${count} of its times` }));
  if (message.form === 'samples') {
    addBlock(to, message.block, { faults, options });
    return faults;
  }
  if (message.unusable > 0) {
    faults.push({ reason: 'bad-shape', detail: `${message.unusable} frames without a usable identifier or payload` });
  }
  const { block, reports, isBrokenOff } = framesToSamples(message, options.tails);
  if (block !== null) addBlock(to, block, { faults, options });
  for (const report of reports) addReport(to.reports, report);
  if (block === null && reports.length === 0 && !isBrokenOff) {
    faults.push({ reason: 'no-channels', detail: 'frames: none of them carries a known channel or a fault' });
  }
  return faults;
}

function takeFaults(to: Decoding, { key, value }: IncomingMessage, { nowMs }: DecodeOptions): Fault[] {
  const message = decodeFaultMessage(value ?? noBytes, nowMs);
  if (message.form === 'reject') return [message];
  const { report } = message;
  if (!isKeyOf(key, report.machineId)) return [wrongKey(key, report.machineId)];
  addReport(to.reports, report);
  return [];
}

function addBlock(to: Decoding, block: SampleBlock, with_: { faults: Fault[]; options: DecodeOptions }): void {
  const { nowMs, futureMs } = with_.options;
  const kept = withoutFuture(block, nowMs + futureMs);
  if (kept.fromTheFuture > 0) {
    const detail = `${kept.fromTheFuture} samples later than the clock by more than ${futureMs / 60_000} minutes`;
    with_.faults.push({ reason: 'future-time', detail });
  }
  if (kept.block.timeMs.length === 0) return;
  to.samples += kept.block.timeMs.length;
  let gatherer = to.gatherers.get(block.machineId);
  if (gatherer === undefined) {
    gatherer = createBlockGatherer();
    to.gatherers.set(block.machineId, gatherer);
  }
  gatherer.add(kept.block);
}

function addReport(reports: Map<string, FaultReport[]>, report: FaultReport): void {
  const list = reports.get(report.machineId);
  if (list === undefined) reports.set(report.machineId, [report]);
  else list.push(report);
}

/** Machine ids are compared as text: a key in another encoding is another key. */
function isKeyOf(key: Buffer | null, machineId: string): boolean {
  return key !== null && key.toString('utf8') === machineId;
}

function wrongKey(key: Buffer | null, machineId: string): Fault {
  const shown = key === null ? 'none' : `"${key.toString('utf8').slice(0, 100)}"`;
  return { reason: 'bad-shape', detail: `key: expected the machine's id "${machineId}", found ${shown}` };
}

interface RejectParts {
  readonly faults: readonly Fault[];
  readonly reason: RejectReason;
  readonly options: DecodeOptions;
}

function rejectOf(batch: PartitionBatch, message: IncomingMessage, parts: RejectParts): RejectedMessage {
  const { source, nowMs } = parts.options;
  return {
    source,
    partition: batch.partition,
    offset: message.offset,
    reason: parts.reason,
    detail: parts.faults.map(({ detail }) => detail).join('; '),
    key: message.key?.toString('utf8') ?? null,
    payload: message.value ?? noBytes,
    atMs: nowMs,
  };
}
