/** Fault episodes: one code of one controller, from becoming active until it is known to have cleared. */

import type { FaultReport, LampState } from '@warmbrick/signals';

/** Where what is known of an episode came from first. */
export const faultOrigins = ['dm1', 'dm2', 'event', 'feed', 'typed'] as const;
export type FaultOrigin = (typeof faultOrigins)[number];

/**
 * What ended an episode: a later list of the same controller without the code (`list`), a message that said so (`event`),
 * or nothing: the source only told that the code occurred, so the end is the last time it was seen (`unknown`).
 */
export type EpisodeEnd = 'list' | 'event' | 'unknown';

/** One message about one code, as events, feeds and people give it; a list of a controller is a `FaultReport`. */
export interface FaultNotice {
  readonly machineId: string;
  readonly timeMs: number;
  /** null when the source does not say; such a code is a controller of its own. */
  readonly sourceAddress: number | null;
  readonly kind: 'became-active' | 'became-inactive' | 'occurred';
  readonly origin: 'event' | 'feed' | 'typed';
  readonly spn: number;
  readonly fmi: number;
  readonly conversionMethod?: 0 | 1;
  readonly occurrenceCount?: number | null;
  readonly lamps?: FaultReport['lamps'];
  readonly flash?: number;
}

export type FaultInput = FaultReport | FaultNotice;

export interface FaultEpisode {
  /** Made of machine, controller, code and start, so that writing an episode twice is one episode. */
  readonly id: string;
  readonly machineId: string;
  readonly spn: number;
  readonly fmi: number;
  readonly conversionMethod: 0 | 1;
  /** null when the source did not say which controller. */
  readonly sourceAddress: number | null;
  /** When it was first seen in this episode; of a code that was only ever previously active, when that was first told. */
  readonly startedMs: number;
  /** Last list of the controller without it before that; null when there was none: it may have begun any time since. */
  readonly absentAtMs: number | null;
  /** null while nothing says that it cleared; silence of the controller does not. */
  readonly endedMs: number | null;
  readonly endedBy: EpisodeEnd | null;
  readonly lastSeenMs: number;
  /** How many episodes of this code of this controller are known, this one included. */
  readonly occurrences: number;
  /** The controller's own count as last told; null when it does not count. */
  readonly reportedCount: number | null;
  /** Lamps and flash byte of the controller while the code was active: each lamp at its most urgent. */
  readonly lamps: FaultReport['lamps'];
  readonly flash: number;
  /** Told as previously active and never seen active itself: its times are those of the telling. */
  readonly isPreviouslyActiveOnly: boolean;
  readonly origin: FaultOrigin;
}

/** A code of a controller, without regard to when. */
export interface FaultKey {
  readonly sourceAddress: number | null;
  readonly spn: number;
  readonly fmi: number;
  readonly conversionMethod: 0 | 1;
}

/** Text that names a code of a controller; part of the identity of an episode. */
export function faultKey({ sourceAddress, spn, fmi, conversionMethod }: FaultKey): string {
  return `${sourceAddress ?? 'x'}.${spn}.${fmi}${conversionMethod === 1 ? '.1' : ''}`;
}

/** The identity of an episode. */
export function faultEpisodeId(machineId: string, code: FaultKey, startedMs: number): string {
  return `${machineId}~fault~${faultKey(code)}~${startedMs}`;
}

/** Lamps of which nothing is known. */
export const unknownLamps: FaultReport['lamps'] = {
  malfunction: 'unavailable',
  redStop: 'unavailable',
  amberWarning: 'unavailable',
  protect: 'unavailable',
};

/** From least to most telling. */
const lampOrder: readonly LampState[] = ['unavailable', 'off', 'reserved', 'on'];

/** Each lamp at the more telling of its two states. */
export function brighterLamps(a: FaultReport['lamps'], b: FaultReport['lamps']): FaultReport['lamps'] {
  const brighter = (one: LampState, other: LampState) =>
    lampOrder.indexOf(one) >= lampOrder.indexOf(other) ? one : other;
  return {
    malfunction: brighter(a.malfunction, b.malfunction),
    redStop: brighter(a.redStop, b.redStop),
    amberWarning: brighter(a.amberWarning, b.amberWarning),
    protect: brighter(a.protect, b.protect),
  };
}

/** Whether an input is the whole list of a controller. */
export function isFaultList(input: FaultInput): input is FaultReport {
  return 'codes' in input;
}
