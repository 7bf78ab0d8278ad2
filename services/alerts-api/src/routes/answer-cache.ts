/** Remembers answers while nothing has changed, and computes an answer once for all who ask at the same time. */

import { createHash } from 'node:crypto';
import { promisify } from 'node:util';
import { brotliCompress, constants, gzip } from 'node:zlib';

/** Answers remembered. Source: engineering judgement: pages of the fleet that are open at the same time. */
const answersKept = 64;
/** An answer is computed again after this time even if this process saw no change: another one may write. */
const longestMs = 1000;
/** Share of the time that computing one answer again and again may take. Source: engineering judgement. */
const busiestRatio = 0.05;
/** Source: common practice: higher qualities cost more than they save. */
const brotliOptions = { params: { [constants.BROTLI_PARAM_QUALITY]: 4 } };
const gzipOptions = { level: 4 };

/** A JSON body, ready to be sent in every way that clients ask for. */
export interface ReadyAnswer {
  readonly json: string;
  /** Weak entity tag. */
  readonly tag: string;
  /** The body compressed; done once, when somebody asks. */
  compressed(encoding: 'br' | 'gzip'): Promise<Buffer>;
}

export interface AnswerCache {
  /**
   * The remembered answer to a question at a version, or the newly computed one. An answer that took long rests before it is
   * computed again, though something changed, for a second at most. A failure is not remembered.
   */
  get(key: string, version: number, compute: () => Promise<string>): Promise<ReadyAnswer>;
}

interface Kept {
  readonly version: number;
  readonly atMs: number;
  /** Not computed again before. */
  restUntilMs: number;
  readonly answer: Promise<ReadyAnswer>;
}

export interface AnswerCacheOptions {
  /** A monotonic clock in milliseconds. */
  readonly now?: () => number;
  /** How long an answer rests, in terms of the time that it took; 0 computes after each change. */
  readonly restRatio?: number;
}

/** Makes an empty cache. */
export function createAnswerCache(options: AnswerCacheOptions = {}): AnswerCache {
  const { now = () => performance.now(), restRatio = 1 / busiestRatio } = options;
  const kept = new Map<string, Kept>();
  const isGood = (known: Kept, version: number) => {
    const age = now() - known.atMs;
    return age < longestMs && (known.version === version || now() < known.restUntilMs);
  };
  return {
    get(key, version, compute) {
      const known = kept.get(key);
      if (known !== undefined && isGood(known, version)) return known.answer;
      const atMs = now();
      const entry: Kept = {
        version,
        atMs,
        // Whoever asks while it is computed gets what is being computed.
        restUntilMs: restRatio === 0 ? 0 : Number.POSITIVE_INFINITY,
        answer: compute().then((json) => {
          entry.restUntilMs = atMs + (now() - atMs) * restRatio;
          return readyAnswer(json);
        }),
      };
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

function readyAnswer(json: string): ReadyAnswer {
  const bodies = new Map<string, Promise<Buffer>>();
  return {
    json,
    tag: `W/"${createHash('sha1').update(json).digest('base64url')}"`,
    compressed(encoding) {
      const known = bodies.get(encoding) ?? compress(json, encoding);
      bodies.set(encoding, known);
      return known;
    },
  };
}

function compress(json: string, encoding: 'br' | 'gzip'): Promise<Buffer> {
  return encoding === 'br' ? promisify(brotliCompress)(json, brotliOptions) : promisify(gzip)(json, gzipOptions);
}
