/** "Did you mean": the known name that is fewest edits away from a written one. */

/** A name further away than this share of its length is not worth suggesting. Source: engineering judgement. */
const furthestRatio = 0.5;
const longestName = 64;

/** The name that a text was most likely meant to be; null when none is near. Case and punctuation do not count. */
export function nearestName(written: string, names: readonly string[]): string | null {
  const text = fold(written.slice(0, longestName));
  let best: string | null = null;
  let bestEdits = Number.POSITIVE_INFINITY;
  for (const name of names) {
    const edits = countEdits(text, fold(name));
    if (edits >= bestEdits || edits > name.length * furthestRatio) continue;
    bestEdits = edits;
    best = name;
  }
  return best;
}

function fold(name: string): string {
  return name.toLowerCase().replaceAll(/[^a-z0-9]/g, '');
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
