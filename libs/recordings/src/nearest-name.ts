/** "Did you mean": the known name that is fewest edits away from a written one. */

import { channelNames } from '@warmbrick/signals';

/** A name further away than this share of its length is not worth suggesting. Source: engineering judgement. */
const furthestRatio = 0.5;
const longestName = 64;

/** The catalogue's channel that a text was most likely meant to be, or null when none is near. */
export function nearestChannel(written: string): string | null {
  const text = written.slice(0, longestName).toLowerCase();
  let best: string | null = null;
  let bestEdits = Number.POSITIVE_INFINITY;
  for (const name of channelNames) {
    const edits = countEdits(text.replaceAll(/[^a-z0-9]/g, ''), name.toLowerCase());
    if (edits < bestEdits) {
      bestEdits = edits;
      best = name;
    }
  }
  return best !== null && bestEdits <= best.length * furthestRatio ? best : null;
}

/** Levenshtein distance. Source: V. I. Levenshtein, 1966; two-row form. */
function countEdits(from: string, to: string): number {
  let previous = Array.from({ length: to.length + 1 }, (_, i) => i);
  for (let i = 1; i <= from.length; i++) {
    const current = [i];
    for (let j = 1; j <= to.length; j++) {
      const replaced = (previous[j - 1] as number) + (from[i - 1] === to[j - 1] ? 0 : 1);
      current.push(Math.min(replaced, (previous[j] as number) + 1, (current[j - 1] as number) + 1));
    }
    previous = current;
  }
  return previous[to.length] as number;
}
