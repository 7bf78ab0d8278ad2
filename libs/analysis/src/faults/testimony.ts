/** A piece of testimony: what recorded signals have to say about a fault. */

import type { MachineProfile } from '@warmbrick/signals';
import type { Finding } from '../finding.js';
import type { Evidence, SuspectSensor } from './derate-inquiry.js';
import type { SignalView } from './signal-view.js';
import type { Trouble } from './trouble.js';

export interface Testimony {
  readonly evidence: Evidence;
  /** How much likelier the signals are if the fault is real; over 1 supports, under 1 contradicts. */
  readonly factor: number;
  readonly suspect: SuspectSensor | null;
}

export interface WitnessContext {
  readonly view: SignalView;
  readonly findings: readonly Finding[];
  readonly profile: MachineProfile;
  readonly derateStartMs: number;
  /** Whether the machine has another trouble with the sensor of this channel. */
  readonly hasSensorTrouble: (channel: string) => boolean;
}

/** One piece of testimony. */
export function testimony(
  text: string,
  factor: number,
  more: { figures?: Evidence['figures']; suspect?: SuspectSensor; kind?: Evidence['kind'] } = {},
): Testimony {
  const supports = factor > 1.05 ? true : factor < 0.95 ? false : null;
  const evidence: Evidence = { kind: more.kind ?? 'signal', text, supports, figures: more.figures ?? {} };
  return { evidence, factor, suspect: more.suspect ?? null };
}

const hourMs = 3_600_000;
/** How far before the derate signals are heard. Source: engineering judgement, a working day. */
const hearingMs = 8 * hourMs;

/** The stretch in which a trouble should show: from a little before it came up to the derate, at most a working day. */
export function troubleStretch(trouble: Trouble, derateStartMs: number) {
  const toMs = trouble.endedMs === null ? derateStartMs : Math.min(trouble.endedMs, derateStartMs);
  return { fromMs: Math.max(Math.min(trouble.anchorMs, toMs - hourMs / 4), toMs - hearingMs), toMs };
}
