/** GET of a JSON body; what goes wrong comes back as a value. */

import type { Problem } from '@warmbrick/contracts';
import { noteServerDate } from './server-clock.js';

export type Fetched<T> = { readonly ok: true; readonly body: T } | { readonly ok: false; readonly problem: Problem };

/** A server that has not answered by then counts as not answering. */
const timeoutMs = 30_000;

/**
 * Fetches a body of the API.
 *
 * Missing: null when the caller called it off. Errors: a problem, the server's own where it sent one.
 */
export async function fetchJson<T>(url: string, signal?: AbortSignal): Promise<Fetched<T> | null> {
  try {
    const limit = AbortSignal.timeout(timeoutMs);
    const response = await fetch(url, {
      headers: { accept: 'application/json, application/problem+json' },
      signal: signal === undefined ? limit : AbortSignal.any([signal, limit]),
    });
    return await readAnswer<T>(response);
  } catch {
    if (signal?.aborted === true) return null;
    return { ok: false, problem: unreachable };
  }
}

/** The body of an answer, or the problem that it tells of. An answer without a body by intent is null. */
export async function readAnswer<T>(response: Response): Promise<Fetched<T>> {
  noteServerDate(response.headers.get('date'));
  if (response.status === 204) return { ok: true, body: null as T };
  const body: unknown = await response.json().catch(() => null);
  if (response.ok && body !== null) return { ok: true, body: body as T };
  return { ok: false, problem: problemOf(body, response.status) };
}

/** No answer came. */
export const unreachable: Problem = {
  type: 'about:blank',
  title: 'The server does not answer',
  status: 0,
  detail: 'Check the connection, then try again. What is on the page is what was last received.',
  code: 'unreachable',
};

function problemOf(body: unknown, status: number): Problem {
  if (typeof body === 'object' && body !== null && typeof (body as Problem).title === 'string') return body as Problem;
  return {
    type: 'about:blank',
    title: status === 200 ? 'The answer could not be read' : `The server answered with status ${status}`,
    status,
    detail: 'The answer was not what this page expects. Is the address that of a Warmbrick server?',
    code: 'unreadable',
  };
}
