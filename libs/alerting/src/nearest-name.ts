/** The name that was probably meant. */

/** Edits beyond which a name is another name. Source: engineering judgement. */
const mostEdits = 3;

/** The nearest of the names within three edits, and fewer than half its letters; null where there is none. */
export function nearestName(written: string, names: readonly string[]): string | null {
  let best: string | null = null;
  let bestEdits = mostEdits + 1;
  for (const name of names) {
    const edits = editsBetween(written.toLowerCase().slice(0, 100), name.toLowerCase());
    if (edits < bestEdits && edits * 2 < name.length) [best, bestEdits] = [name, edits];
  }
  return best;
}

/** Levenshtein distance. Source: V. I. Levenshtein, 1966; the two-row form. */
function editsBetween(a: string, b: string): number {
  let above = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const swap = (above[j - 1] as number) + (a[i - 1] === b[j - 1] ? 0 : 1);
      row.push(Math.min(swap, (above[j] as number) + 1, (row[j - 1] as number) + 1));
    }
    above = row;
  }
  return above[b.length] as number;
}
