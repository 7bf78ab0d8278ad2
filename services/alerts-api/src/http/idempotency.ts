/**
 * Idempotency-Key on POSTs: the same request again gets the first answer again, and is done once.
 *
 * Source: draft-ietf-httpapi-idempotency-key-header. Telemetry has its own, since its bodies are streams.
 */

import { createHash } from 'node:crypto';
import type { Store } from '@warmbrick/store';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { ProblemError } from './problem.js';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Fields of the answer that are not kept: a repeated request gets null for them. */
    secretFields?: readonly string[];
    /** False where the route sees to repeated requests itself. */
    idempotency?: false;
  }
  interface FastifyRequest {
    /** The key under which this request is done, once. */
    repeatKey: string | null;
  }
}

/** Characters of a key. Source: common practice. */
const longestKey = 255;
/** Characters of an answer that is kept; a longer one is not repeated, the request is done again. */
const longestAnswer = 256 * 1024;

/** Installs it on the whole app, after the roles and before the audit log: a repeated request is not done again. */
export function installIdempotency(app: FastifyInstance, store: Store): void {
  app.decorateRequest('repeatKey', null);
  app.addHook('preHandler', async (request, reply) => {
    const key = request.headers['idempotency-key'];
    if (key === undefined || !isRepeatable(request)) return;
    if (typeof key !== 'string' || !/^[\x21-\x7e]+$/.test(key) || key.length > longestKey) {
      const message = `1 to ${longestKey} visible characters.`;
      throw new ProblemError('invalid-request', `Idempotency-Key: ${message}`, [
        { path: 'headers.idempotency-key', message },
      ]);
    }
    const known = await store.beginRepeatable({ caller: request.caller.keyId, key, request: hashOf(request) });
    if (known.state === 'new') request.repeatKey = key;
    else if (known.state === 'other-request') {
      throw new ProblemError('idempotency-key-reused', 'This Idempotency-Key was used for another request.');
    } else if (known.state === 'under-way') {
      throw new ProblemError('request-under-way', 'The request with this Idempotency-Key is not done yet. Try again.');
    } else {
      reply.code(known.status).header('Idempotency-Replayed', 'true').type(typeOf(known.status));
      return reply.serializer((body: unknown) => body as string).send(known.body);
    }
    return undefined;
  });
  app.addHook('onSend', async (request, reply, payload) => {
    const { repeatKey } = request;
    if (repeatKey === null) return payload;
    request.repeatKey = null;
    const isKept = typeof payload === 'string' && payload.length <= longestAnswer && reply.statusCode < 500;
    const answer = isKept ? { status: reply.statusCode, body: withoutSecrets(request, payload) } : null;
    await store.endRepeatable(request.caller.keyId, repeatKey, answer).catch((error: unknown) => {
      request.log.error({ err: error }, 'an answer could not be kept for repeating');
    });
    return payload;
  });
}

function isRepeatable({ method, caller, routeOptions }: FastifyRequest): boolean {
  return method === 'POST' && caller !== undefined && routeOptions.config.idempotency !== false;
}

function hashOf(request: FastifyRequest): Uint8Array {
  const { method, url, body } = request;
  return createHash('sha256')
    .update(JSON.stringify([method, url, body ?? null]))
    .digest();
}

function typeOf(status: number): string {
  return status < 400 ? 'application/json; charset=utf-8' : 'application/problem+json';
}

function withoutSecrets({ routeOptions }: FastifyRequest, payload: string): string {
  const { secretFields } = routeOptions.config;
  if (secretFields === undefined) return payload;
  const answer = JSON.parse(payload) as Record<string, unknown>;
  for (const field of secretFields) if (field in answer) answer[field] = null;
  return JSON.stringify(answer);
}
