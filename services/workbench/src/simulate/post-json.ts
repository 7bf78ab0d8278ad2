/** Posts JSON to a service, again when it is busy or out of reach. */

import { setTimeout as wait } from 'node:timers/promises';
import { type TelemetryReceipt, telemetryReceiptSchema } from '@warmbrick/contracts';
import { OperatingError } from '@warmbrick/runtime';

export interface PostOptions {
  /** First wait before it is tried again, ms; doubles each time. Default 500. */
  readonly firstWaitMs?: number;
}

/** Tries before giving up, and the longest wait between two, ms. Source: engineering judgement. */
const mostTries = 6;
const longestWaitMs = 30_000;
/** How long an answer may take, ms. Source: engineering judgement. */
const answerMs = 60_000;
/** What a service says when it wants the same again later. Source: RFC 9110 and RFC 6585. */
const busyStatus = [408, 425, 429, 500, 502, 503, 504];
/** Characters of an answer that a message quotes. */
const quotedCharacters = 300;

/**
 * Posts a body and gives the receipt.
 *
 * Errors: `service-unreachable` (retriable) when it stays busy or out of reach, `telemetry-refused` when it says no.
 */
export async function postJson(url: URL, body: string, options: PostOptions = {}): Promise<TelemetryReceipt> {
  let waitMs = options.firstWaitMs ?? 500;
  let last = '';
  for (let tries = 1; tries <= mostTries; tries++) {
    const answer = await tryOnce(url, body);
    if (answer.status >= 200 && answer.status < 300) return receiptOf(url, answer.text);
    if (answer.status !== 0 && !busyStatus.includes(answer.status)) throw refused(url, answer);
    last = answer.status === 0 ? answer.text : `status ${answer.status}`;
    if (tries < mostTries) await wait(Math.min(longestWaitMs, answer.retryAfterMs ?? waitMs));
    waitMs *= 2;
  }
  throw new OperatingError(`does not take the samples after ${mostTries} tries (${last}).`, {
    code: 'service-unreachable',
    where: url.href,
    remedy: 'Check that the service runs there, then start again.',
    isRetriable: true,
  });
}

interface Answer {
  /** 0 when there was none. */
  readonly status: number;
  readonly text: string;
  readonly retryAfterMs: number | null;
}

async function tryOnce(url: URL, body: string): Promise<Answer> {
  try {
    const response = await fetch(url, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body,
      signal: AbortSignal.timeout(answerMs),
    });
    const seconds = Number(response.headers.get('retry-after') ?? Number.NaN);
    return { status: response.status, text: await response.text(), retryAfterMs: seconds > 0 ? seconds * 1000 : null };
  } catch (error) {
    const { message, cause } = error as Error & { cause?: Error };
    return { status: 0, text: cause?.message ?? message, retryAfterMs: null };
  }
}

function receiptOf(url: URL, text: string): TelemetryReceipt {
  try {
    return telemetryReceiptSchema.parse(JSON.parse(text));
  } catch {
    throw refused(url, { status: 200, text });
  }
}

function refused(url: URL, answer: { status: number; text: string }): OperatingError {
  const said = answer.text.slice(0, quotedCharacters).replace(/\s+/g, ' ').trim();
  return new OperatingError(`answers with status ${answer.status}${said === '' ? '' : `: ${said}`}.`, {
    code: 'telemetry-refused',
    where: url.href,
    remedy: 'Check that the address is that of POST /v1/telemetry.',
  });
}
