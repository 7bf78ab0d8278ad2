/** Remembers answers by idempotency key, so that a request that is sent again is answered and not done again. */

import type { TelemetryAnswer } from '@warmbrick/contracts';

export interface AnswerMemoryOptions {
  /** Keys remembered at most; at the bound the oldest goes. */
  readonly most: number;
  readonly keepMs: number;
  /** The wall clock, UTC epoch ms. */
  readonly now: () => number;
}

export interface AnswerMemory {
  /**
   * The answer that was given for the key, or the one that the job gives now. A second request that comes while the first
   * is in work waits for it.
   *
   * Missing: null when the key was used with another body.
   * Errors: the job's; such a key is free again, as after an answer that took nothing in.
   */
  answer(key: string, fingerprint: string, job: () => Promise<TelemetryAnswer>): Promise<TelemetryAnswer | null>;
  size(): number;
}

interface Remembered {
  readonly fingerprint: string;
  readonly sinceMs: number;
  readonly answer: Promise<TelemetryAnswer>;
}

/** Makes an empty memory. Source of the rules: IETF draft-ietf-httpapi-idempotency-key-header, 2.6 and 2.7 (from memory). */
export function createAnswerMemory({ most, keepMs, now }: AnswerMemoryOptions): AnswerMemory {
  const remembered = new Map<string, Remembered>();

  const forget = (key: string, entry: Remembered) => {
    if (remembered.get(key) === entry) remembered.delete(key);
  };
  const makeRoom = () => {
    const oldestMs = now() - keepMs;
    for (const [key, { sinceMs }] of remembered) {
      // In order of age, so the first that is young enough ends it.
      if (sinceMs > oldestMs && remembered.size < most) return;
      remembered.delete(key);
    }
  };

  return {
    async answer(key, fingerprint, job) {
      makeRoom();
      const known = remembered.get(key);
      if (known !== undefined) return known.fingerprint === fingerprint ? known.answer : null;
      const entry: Remembered = { fingerprint, sinceMs: now(), answer: job() };
      remembered.set(key, entry);
      try {
        const answer = await entry.answer;
        if (answer.outcome !== 'taken') forget(key, entry);
        return answer;
      } catch (error) {
        forget(key, entry);
        throw error;
      }
    },
    size: () => remembered.size,
  };
}
