/** Remembers answers while nothing has changed, and computes an answer once for all who ask at the same time. */

/** Answers remembered. Source: engineering judgement: pages of the fleet that are open at the same time. */
const answersKept = 64;
/** An answer is computed again after this time even if this process saw no change: another one may write. */
const longestMs = 1000;

export interface AnswerCache {
  /** The remembered answer to a question at a version, or the newly computed one. A failure is not remembered. */
  get(key: string, version: number, compute: () => Promise<string>): Promise<string>;
}

/** Makes an empty cache. `now` is a monotonic clock in milliseconds. */
export function createAnswerCache(now: () => number = () => performance.now()): AnswerCache {
  const kept = new Map<string, { version: number; atMs: number; answer: Promise<string> }>();
  return {
    get(key, version, compute) {
      const known = kept.get(key);
      if (known !== undefined && known.version === version && now() - known.atMs < longestMs) return known.answer;
      const entry = { version, atMs: now(), answer: compute() };
      kept.delete(key);
      if (kept.size >= answersKept) kept.delete(kept.keys().next().value as string);
      kept.set(key, entry);
      entry.answer.catch(() => {
        if (kept.get(key) === entry) kept.delete(key);
      });
      return entry.answer;
    },
  };
}
