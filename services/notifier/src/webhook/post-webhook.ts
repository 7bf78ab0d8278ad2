/** One call of a webhook: bounded in time and size, no redirects, no forbidden addresses. */

import { type ClientRequest, type IncomingMessage, request as requestHttp } from 'node:http';
import { request as requestHttps } from 'node:https';
import { type AddressGuard, checkLiteral, ForbiddenAddress, guardedLookup } from './address-guard.js';

export interface WebhookCall {
  readonly url: string;
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string;
}

export interface WebhookLimits {
  /** From the first byte to the end of the answer, ms. */
  readonly timeoutMs: number;
  /** Bytes of the answer that are read at most; the rest is not waited for. */
  readonly answerBytes: number;
}

/** Source: Standard Webhooks specification, "Operational considerations" (15 to 30 s); size by engineering judgement. */
export const usualWebhookLimits: WebhookLimits = { timeoutMs: 15_000, answerBytes: 16 * 1024 };

export interface CallOutcome {
  readonly result: 'taken' | 'refused' | 'failed';
  /** HTTP status or the code of a failure. */
  readonly status: string;
  readonly detail: string;
  /** The receiver's wish, ms; null without one. */
  readonly retryAfterMs: number | null;
}

/** Characters of the answer that the delivery log keeps. */
const keptCharacters = 500;
/** Longest wait that a receiver may ask for, ms. Source: engineering judgement. */
const longestRetryAfterMs = 3_600_000;

/**
 * Sends once. Never throws: `taken` for 2xx; `refused` for what trying again won't mend (410, a forbidden or malformed address);
 * `failed` for all else, redirects included.
 *
 * Source: Standard Webhooks specification for the meaning of statuses; RFC 9110, 10.2.3 for Retry-After.
 */
export async function postWebhook(
  call: WebhookCall,
  isAllowed: AddressGuard,
  limits: WebhookLimits = usualWebhookLimits,
): Promise<CallOutcome> {
  let url: URL;
  try {
    url = new URL(call.url);
    if (url.protocol !== 'https:' && url.protocol !== 'http:')
      throw new ForbiddenAddress('only http and https are called');
    checkLiteral(url, isAllowed);
  } catch (error) {
    return outcome('refused', 'forbidden-address', (error as Error).message);
  }
  return new Promise((resolve) => {
    const send = url.protocol === 'https:' ? requestHttps : requestHttp;
    const request = send(url, {
      method: 'POST',
      headers: { ...call.headers, 'Content-Length': String(Buffer.byteLength(call.body)) },
      lookup: guardedLookup(isAllowed),
      agent: false,
    });
    const timer = setTimeout(() => request.destroy(new Error('no whole answer in time')), limits.timeoutMs);
    const end = (result: CallOutcome) => {
      clearTimeout(timer);
      resolve(result);
      request.destroy();
    };
    request.on('error', (error: NodeJS.ErrnoException) => end(failure(error)));
    request.on('response', (response) => readAnswer(request, response, { limits, end }));
    request.end(call.body);
  });
}

function readAnswer(
  request: ClientRequest,
  response: IncomingMessage,
  { limits, end }: { limits: WebhookLimits; end: (result: CallOutcome) => void },
): void {
  const parts: Buffer[] = [];
  let bytes = 0;
  const finish = () => end(judge(response, Buffer.concat(parts).toString('utf8').slice(0, keptCharacters)));
  response.on('data', (part: Buffer) => {
    bytes += part.length;
    if (bytes <= limits.answerBytes) parts.push(part);
    // The status is known; nobody needs the rest.
    else finish();
  });
  response.on('end', finish);
  response.on('error', (error) => end(failure(error)));
  request.on('close', () => end(outcome('failed', 'cut-off', 'the connection closed in the middle of the answer')));
}

function judge({ statusCode = 0, headers }: IncomingMessage, text: string): CallOutcome {
  const status = String(statusCode);
  if (statusCode >= 200 && statusCode < 300) return outcome('taken', status, text);
  if (statusCode === 410) return outcome('refused', status, text);
  if (statusCode >= 300 && statusCode < 400)
    return outcome(
      'failed',
      status,
      `redirects are not followed (${headers.location ?? 'no location'})`.slice(0, keptCharacters),
    );
  return { ...outcome('failed', status, text), retryAfterMs: retryAfterMs(headers['retry-after']) };
}

function retryAfterMs(header: string | undefined): number | null {
  const seconds = Number(header);
  if (header === undefined || header.trim() === '' || !Number.isFinite(seconds) || seconds < 0) return null;
  return Math.min(seconds * 1000, longestRetryAfterMs);
}

function failure(error: NodeJS.ErrnoException): CallOutcome {
  if (error instanceof ForbiddenAddress) return outcome('refused', error.code, error.message);
  return outcome('failed', error.code ?? 'error', error.message);
}

function outcome(result: CallOutcome['result'], status: string, detail: string): CallOutcome {
  return { result, status, detail: detail.slice(0, keptCharacters), retryAfterMs: null };
}
