/** Asks a provider for pages: no faster than allowed, patiently, and never more than can be held. */

import type { FeedProvider } from './feed-settings.js';

/** Time and waiting, so that tests need not wait. */
export interface FeedClock {
  /** UTC epoch ms. */
  now(): number;
  /** Resolves after the time or when the signal ends the waiting. */
  sleep(ms: number, signal: AbortSignal): Promise<void>;
}

/** What a client may say it has already. Source: RFC 9110, 13.1.2 and 13.1.3. */
export interface Validators {
  readonly etag: string | null;
  readonly lastModified: string | null;
}

type FeedAnswer =
  | { readonly form: 'page'; readonly body: Uint8Array; readonly validators: Validators }
  | { readonly form: 'unchanged' }
  | { readonly form: 'failed'; readonly detail: string };

export interface FeedClient {
  /** Errors: none; whatever goes wrong is `failed` with what it was, and never names a credential. */
  get(url: string, known: Validators | null): Promise<FeedAnswer>;
}

export interface FeedClientOptions {
  readonly provider: FeedProvider;
  readonly clock: FeedClock;
  /** From 0 to 1. */
  readonly random: () => number;
  readonly signal: AbortSignal;
  readonly onRetry: () => void;
}

type Try = FeedAnswer | { readonly form: 'again'; readonly detail: string; readonly afterMs: number | null };

const mostRedirects = 3;
/** Source: RFC 9110, 15.4. */
const redirectStatuses = [301, 302, 303, 307, 308];
/** Statuses that pass. Source: RFC 9110, 15.5.9 and 15.6; RFC 6585, 4. */
const passingStatuses = [408, 425, 429, 500, 502, 503, 504];
/** Longest wait that a provider may ask for within a round, ms; a longer one ends the round. Source: engineering judgement. */
const longestAskedMs = 15 * 60_000;

/** Makes the client of one provider. Requests come one after the other. */
export function createFeedClient(options: FeedClientOptions): FeedClient {
  const { provider, clock, random, signal, onRetry } = options;
  let freeAtMs = 0;
  const waitForTurn = async () => {
    const nowMs = clock.now();
    if (freeAtMs > nowMs) await clock.sleep(freeAtMs - nowMs, signal);
    freeAtMs = Math.max(freeAtMs, clock.now()) + 60_000 / provider.perMinute;
  };
  return {
    async get(url, known) {
      let last = 'it was not tried';
      for (let turn = 0; turn < provider.tries && !signal.aborted; turn++) {
        await waitForTurn();
        if (signal.aborted) break;
        const answer = await tryOnce(options, url, { known, waitForTurn });
        if (answer.form !== 'again') return answer;
        last = answer.detail;
        const { afterMs } = answer;
        // Asked to wait, we ask nothing of this provider until then, not in the next round either.
        if (afterMs !== null) freeAtMs = Math.max(freeAtMs, clock.now() + afterMs);
        if (afterMs !== null && afterMs > longestAskedMs) return failed(`${last}; it asks for ${afterMs / 1000} s`);
        if (turn + 1 === provider.tries) break;
        onRetry();
        const ceilingMs = Math.min(provider.firstRetryMs * 2 ** turn, provider.longestRetryMs);
        // Source: exponential backoff with jitter, common practice.
        if (afterMs === null) await clock.sleep(ceilingMs * (0.5 + random() / 2), signal);
      }
      return failed(signal.aborted ? 'stopped' : `${last}, after ${provider.tries} tries`);
    },
  };
}

async function tryOnce(
  { provider, clock, signal }: FeedClientOptions,
  firstUrl: string,
  { known, waitForTurn }: { known: Validators | null; waitForTurn: () => Promise<void> },
): Promise<Try> {
  let url = firstUrl;
  for (let turn = 0; turn <= mostRedirects; turn++) {
    if (turn > 0) await waitForTurn();
    try {
      const answer = await fetch(url, {
        headers: headersOf(provider, known),
        redirect: 'manual',
        signal: AbortSignal.any([signal, AbortSignal.timeout(provider.timeoutMs)]),
      });
      if (!redirectStatuses.includes(answer.status)) return await judge(answer, provider, clock);
      await answer.body?.cancel();
      const target = redirectTarget(answer, url);
      if (target === null) return failed('it redirects to another host, where our credentials do not go');
      url = target;
    } catch (error) {
      return { form: 'again', detail: describe(error), afterMs: null };
    }
  }
  return failed(`it redirects more than ${mostRedirects} times`);
}

async function judge(answer: Response, provider: FeedProvider, clock: FeedClock): Promise<Try> {
  if (answer.status === 304) return { form: 'unchanged' };
  if (answer.status === 200) {
    const body = await readLimited(answer, provider.answerBytes);
    if (body === null) return failed(`its answer is larger than ${provider.answerBytes} bytes`);
    const validators = { etag: answer.headers.get('etag'), lastModified: answer.headers.get('last-modified') };
    return { form: 'page', body, validators };
  }
  await answer.body?.cancel();
  if (!passingStatuses.includes(answer.status)) return failed(`it answers with status ${answer.status}`);
  const afterMs = retryAfterMs(answer.headers.get('retry-after'), clock.now());
  return { form: 'again', detail: `it answers with status ${answer.status}`, afterMs };
}

/** The body, decompressed; null when it is larger than allowed, which is noticed while it comes. */
async function readLimited(answer: Response, mostBytes: number): Promise<Uint8Array | null> {
  const chunks: Uint8Array[] = [];
  let length = 0;
  for await (const chunk of answer.body ?? []) {
    length += chunk.length;
    if (length > mostBytes) return null;
    chunks.push(chunk);
  }
  return Buffer.concat(chunks, length);
}

function headersOf({ auth, format }: FeedProvider, known: Validators | null): Record<string, string> {
  const headers: Record<string, string> = {
    accept: format === 'json' ? 'application/iso15143-snapshot+json, application/json' : 'application/xml',
  };
  if (auth?.kind === 'basic') {
    headers.authorization = `Basic ${Buffer.from(`${auth.user}:${auth.password}`).toString('base64')}`;
  } else if (auth?.kind === 'bearer') headers.authorization = `Bearer ${auth.token}`;
  else if (auth?.kind === 'header') headers[auth.name.toLowerCase()] = auth.value;
  if (typeof known?.etag === 'string') headers['if-none-match'] = known.etag;
  else if (typeof known?.lastModified === 'string') headers['if-modified-since'] = known.lastModified;
  return headers;
}

function redirectTarget(answer: Response, from: string): string | null {
  const location = answer.headers.get('location');
  if (location === null || !URL.canParse(location, from)) return null;
  const target = new URL(location, from);
  return target.origin === new URL(from).origin ? target.href : null;
}

/** Source: RFC 9110, 10.2.3: seconds, or a date. Null when it says nothing usable. */
function retryAfterMs(text: string | null, nowMs: number): number | null {
  if (text === null) return null;
  if (/^\d{1,9}$/.test(text)) return Number(text) * 1000;
  const atMs = Date.parse(text);
  return Number.isNaN(atMs) ? null : Math.max(0, atMs - nowMs);
}

function failed(detail: string): FeedAnswer {
  return { form: 'failed', detail };
}

function describe(error: unknown): string {
  if (!(error instanceof Error)) return 'the request failed';
  if (error.name === 'TimeoutError') return 'it does not answer in time';
  const cause = (error.cause as NodeJS.ErrnoException | undefined)?.code;
  return `the request failed (${cause ?? error.name})`;
}
