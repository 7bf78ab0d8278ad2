/** How old the last sample of a machine is; what is old is never shown as live. */

import { formatDuration } from './duration.js';
import { formatInstantShort } from './instant.js';

/** From this age on a machine counts as silent. Source: design decision, two minutes. */
export const silentAfterMs = 120_000;

export interface Freshness {
  readonly isSilent: boolean;
  /** "last sample 3 s ago" or "silent since 14:02". */
  readonly words: string;
}

/**
 * Age of a last sample in words.
 *
 * Units: epoch ms. Range: a sample from the future counts as just taken, since clocks differ by seconds.
 */
export function freshness(lastSampleMs: number, nowMs: number, timeZone: string): Freshness {
  const ageMs = Math.max(0, nowMs - lastSampleMs);
  if (!Number.isFinite(lastSampleMs)) return { isSilent: true, words: 'never heard' };
  if (ageMs > silentAfterMs) {
    return { isSilent: true, words: `silent since ${formatInstantShort(lastSampleMs, timeZone, nowMs)}` };
  }
  return { isSilent: false, words: `last sample ${formatDuration(ageMs / 1000)} ago` };
}
