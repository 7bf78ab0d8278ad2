/** POST, PUT or DELETE of a JSON body; what goes wrong comes back as a value. */

import { type Fetched, readAnswer, unreachable } from './fetch-json.js';

/** A server that has not answered by then counts as not answering. */
const timeoutMs = 30_000;

export interface Sending {
  readonly method: 'POST' | 'PUT' | 'PATCH' | 'DELETE';
  readonly body?: unknown;
  /** Content type; JSON if not given, and then the body is written as JSON. */
  readonly type?: string;
}

/**
 * Sends once. A POST carries a key of its own, so that a repeat by the network is not a second one.
 *
 * Errors: a problem, the server's own where it sent one. Missing: an answer without a body is null.
 */
export async function sendJson<T>(
  url: string,
  { method, body, type = 'application/json' }: Sending,
): Promise<Fetched<T>> {
  const headers: Record<string, string> = { accept: 'application/json, application/problem+json' };
  if (body !== undefined) headers['content-type'] = type;
  if (method === 'POST') headers['idempotency-key'] = crypto.randomUUID();
  const text = body === undefined ? null : type === 'application/json' ? JSON.stringify(body) : String(body);
  try {
    const response = await fetch(url, { method, headers, body: text, signal: AbortSignal.timeout(timeoutMs) });
    return await readAnswer<T>(response);
  } catch {
    return { ok: false, problem: unreachable };
  }
}
