/** Asks the running service, with the key of the environment. */

import { randomUUID } from 'node:crypto';
import { OperatingError } from '@warmbrick/runtime';

export interface ServiceCall {
  readonly url: string;
  readonly method: 'GET' | 'POST';
  /** Below /v1. */
  readonly path: string;
  readonly body?: unknown;
}

/** How long the service may take to answer. */
const answerWithinMs = 30_000;

/**
 * The answer as JSON. The key is taken from WARMBRICK_API_KEY; the service says who that is, and writes down what was done.
 *
 * Errors: OperatingError `service-unreachable` (retriable); `service-refused` with what the service said.
 */
export async function callService({ url, method, path, body }: ServiceCall): Promise<unknown> {
  const address = `${url.replace(/\/+$/, '')}/v1${path}`;
  const key = process.env.WARMBRICK_API_KEY;
  const answer = await ask(address, {
    method,
    signal: AbortSignal.timeout(answerWithinMs),
    headers: {
      accept: 'application/json',
      ...(key === undefined || key === '' ? {} : { authorization: `Bearer ${key}` }),
      ...(method === 'POST' ? { 'idempotency-key': randomUUID() } : {}),
      ...(body === undefined ? {} : { 'content-type': 'application/json' }),
    },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  });
  const text = await answer.text();
  if (answer.ok) return JSON.parse(text) as unknown;
  throw new OperatingError(detailOf(text) ?? `the service answered ${answer.status}.`, {
    code: 'service-refused',
    where: address,
    remedy: answer.status === 401 ? 'Put an API key into WARMBRICK_API_KEY.' : 'Correct what it says.',
  });
}

async function ask(address: string, init: RequestInit): Promise<Response> {
  try {
    return await fetch(address, init);
  } catch (cause) {
    throw new OperatingError('the service does not answer.', {
      code: 'service-unreachable',
      where: address,
      isRetriable: true,
      remedy: 'Start it with npm start, or name its address with --url.',
      cause,
    });
  }
}

function detailOf(text: string): string | null {
  try {
    const { detail } = JSON.parse(text) as { detail?: unknown };
    return typeof detail === 'string' ? detail : null;
  } catch {
    return null;
  }
}
