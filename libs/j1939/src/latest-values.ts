/** The latest word of every source on every field of the plans. */

import {
  channelSources,
  type GroupPlan,
  groupPlans,
  type PlanField,
  type UnusableReason,
  unusableReasons,
} from './channel-plan.js';
import { signalStatus } from './decode-signals.js';
import { type RawStatus, readBits } from './raw-status.js';
import { sourceRank } from './source-preference.js';

/** What one source address last sent in one group, field by field. */
interface Source {
  readonly rank: number;
  /** NaN: its latest word was no usable value. */
  readonly values: Float64Array;
  readonly timesMs: Float64Array;
}

const reasonOf: Readonly<Record<Exclude<RawStatus, 'valid'>, number>> = {
  'not-available': unusableReasons.indexOf('not-available'),
  error: unusableReasons.indexOf('error'),
  reserved: unusableReasons.indexOf('reserved'),
  // No channel of the catalogue has a parameter-specific value that we know, so it says as little as a reserved one.
  'parameter-specific': unusableReasons.indexOf('reserved'),
};
const implausible = unusableReasons.indexOf('implausible');
const sentinel = unusableReasons.indexOf('sentinel');
const usable = -1;

/** Keeps what each source last said, and counts what was not usable. Bounded: 256 addresses a group. */
export class LatestValues {
  /** By plan: sources by address, and the same ones best first. */
  readonly #byAddress: (Source | undefined)[][] = groupPlans.map(() => []);
  readonly #inOrder: Source[][] = groupPlans.map(() => []);
  /** Counts by channel and reason. */
  readonly #unusable = new Float64Array(channelSources.length * unusableReasons.length);

  /** Takes in one message. A value older than the source's latest word on that field is ignored. */
  take(planIndex: number, sourceAddress: number, timeMs: number, payload: Uint8Array, length: number): void {
    const fields = (groupPlans[planIndex] as GroupPlan).fields;
    const source = this.#byAddress[planIndex]?.[sourceAddress] ?? this.#addSource(planIndex, sourceAddress);
    const bitsSent = length * 8;
    for (let i = 0; i < fields.length; i++) {
      const field = fields[i] as PlanField;
      if (field.endBit > bitsSent || timeMs < (source.timesMs[i] as number)) continue;
      const signal = field.signal;
      const raw = readBits(payload, signal.startBit, signal.bits);
      const value = raw * signal.scale + signal.offset;
      const reason = whyUnusable(field, raw, value, payload, bitsSent);
      source.timesMs[i] = timeMs;
      source.values[i] = reason === usable ? value : Number.NaN;
      if (reason !== usable) {
        const at = field.channelIndex * unusableReasons.length + reason;
        this.#unusable[at] = (this.#unusable[at] as number) + 1;
      }
    }
  }

  /** The best value of a channel received in (afterMs, ...], or NaN. */
  best(channelIndex: number, afterMs: number): number {
    const candidates = channelSources[channelIndex] ?? [];
    for (let c = 0; c < candidates.length; c++) {
      const { planIndex, fieldIndex } = candidates[c] as { planIndex: number; fieldIndex: number };
      const sources = this.#inOrder[planIndex] as Source[];
      for (let s = 0; s < sources.length; s++) {
        const source = sources[s] as Source;
        const value = source.values[fieldIndex] as number;
        if (value === value && (source.timesMs[fieldIndex] as number) > afterMs) return value;
      }
    }
    return Number.NaN;
  }

  /** How often a value of the channel was received and not usable, by reason; null when never. */
  unusableOf(channelIndex: number): Partial<Record<UnusableReason, number>> | null {
    const counts: Partial<Record<UnusableReason, number>> = {};
    for (const [r, reason] of unusableReasons.entries()) {
      const count = this.#unusable[channelIndex * unusableReasons.length + r] as number;
      if (count > 0) counts[reason] = count;
    }
    return Object.keys(counts).length > 0 ? counts : null;
  }

  #addSource(planIndex: number, sourceAddress: number): Source {
    const fieldCount = (groupPlans[planIndex] as GroupPlan).fields.length;
    const source: Source = {
      rank: sourceRank(sourceAddress),
      values: new Float64Array(fieldCount).fill(Number.NaN),
      timesMs: new Float64Array(fieldCount).fill(Number.NEGATIVE_INFINITY),
    };
    (this.#byAddress[planIndex] as (Source | undefined)[])[sourceAddress] = source;
    const ordered = this.#inOrder[planIndex] as Source[];
    ordered.push(source);
    ordered.sort((a, b) => a.rank - b.rank);
    return source;
  }
}

function whyUnusable(field: PlanField, raw: number, value: number, payload: Uint8Array, bitsSent: number): number {
  const status = field.statusByRaw ? (field.statusByRaw[raw] as RawStatus) : signalStatus(field.signal, raw);
  if (status !== 'valid') return reasonOf[status];
  for (let i = 0; i < field.sentinels.length; i++) if (field.sentinels[i] === raw) return sentinel;
  for (let i = 0; i < field.gates.length; i++) {
    const gate = field.gates[i] as PlanField['signal'];
    if (gate.startBit + gate.bits > bitsSent) continue;
    const gateRaw = readBits(payload, gate.startBit, gate.bits);
    // 1 opens the gate; 3 means that the sender does not report it, and then the sentinels alone decide.
    if (gateRaw === 0) return reasonOf['not-available'];
    if (gateRaw === 2) return reasonOf.error;
  }
  return value >= field.channel.min && value <= field.channel.max ? usable : implausible;
}
