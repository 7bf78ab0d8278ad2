/** One request to the API; what goes wrong comes back as a value. The functions of `client.ts` all come down to this. */

import type { Problem } from '@warmbrick/contracts';
import { noteServerDate } from './server-clock.js';
import { noteSignInNeeded } from './sign-in-state.js';

export type Fetched<T> = { readonly ok: true; readonly body: T } | { readonly ok: false; readonly problem: Problem };

export interface CallOptions {
  /** Calls it off. */
  readonly signal?: AbortSignal;
}

interface CallParts extends CallOptions {
  readonly path?: object;
  readonly query?: object;
  readonly body?: unknown;
  /** Content type of the body; JSON if not given, and then the body is written as JSON. */
  readonly type?: string;
}

/** A server that has not answered by then counts as not answering. */
const timeoutMs = 30_000;
const jsonType = 'application/json';

/**
 * Sends a request and reads its answer.
 *
 * Missing: null when the caller called it off. Errors: a problem, the server's own where it sent one.
 */
export async function call<T>(method: string, path: string, parts: CallParts): Promise<Fetched<T> | null> {
  const { signal, body, type = jsonType } = parts;
  const headers: Record<string, string> = { accept: `${jsonType}, application/problem+json` };
  if (body !== undefined) headers['content-type'] = type;
  // Sent once by us; a repeat by the network on the way is not a second one.
  if (method === 'POST') headers['idempotency-key'] = randomName();
  const text = body === undefined ? null : type === jsonType ? JSON.stringify(body) : String(body);
  try {
    const limit = AbortSignal.timeout(timeoutMs);
    const signals = signal === undefined ? limit : AbortSignal.any([signal, limit]);
    return await readAnswer<T>(await fetch(urlOf(path, parts), { method, headers, body: text, signal: signals }));
  } catch {
    if (signal?.aborted === true) return null;
    return { ok: false, problem: unreachable };
  }
}

/** Sends something that changes something; nobody calls it off. */
export async function send<T>(method: string, path: string, parts: Omit<CallParts, 'signal'>): Promise<Fetched<T>> {
  return (await call<T>(method, path, parts)) as Fetched<T>;
}

/** The body of an answer, or the problem that it tells of. An answer without a body by intent is null. */
async function readAnswer<T>(response: Response): Promise<Fetched<T>> {
  noteServerDate(response.headers.get('date'));
  if (response.status === 401) noteSignInNeeded();
  if (response.status === 204) return { ok: true, body: null as T };
  const body: unknown = await response.json().catch(() => null);
  if (response.ok && body !== null) return { ok: true, body: body as T };
  return { ok: false, problem: problemOf(body, response.status) };
}

/** 128 random bits. `crypto.randomUUID` is only there over TLS and on this computer itself. */
function randomName(): string {
  return [...crypto.getRandomValues(new Uint32Array(4))].map((part) => part.toString(36)).join('-');
}

/** The path with its parameters filled in, and the query; parameters without a value are left out. */
function urlOf(path: string, { path: inPath = {}, query = {} }: CallParts): string {
  const values = inPath as Readonly<Record<string, string | number>>;
  const filled = path.replaceAll(/\{(\w+)\}/g, (_, name: string) => encodeURIComponent(String(values[name] ?? '')));
  const search = new URLSearchParams();
  for (const [name, value] of Object.entries(query)) {
    if (value !== undefined && value !== null) search.set(name, String(value));
  }
  const text = search.toString();
  return text === '' ? filled : `${filled}?${text}`;
}

const unreachable: Problem = {
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
