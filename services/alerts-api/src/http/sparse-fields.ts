/** `fields=` on every read that answers with JSON: only these fields of each item, or of the one thing that was asked for. */

import type { FastifyInstance } from 'fastify';
import { ProblemError } from './problem.js';

declare module 'fastify' {
  interface FastifyRequest {
    /** Fields that were asked for; null for all. */
    fields: readonly string[] | null;
  }
}

/** Fields of one request at most, and characters of a name. */
const mostFields = 50;
const fieldName = /^[A-Za-z][A-Za-z0-9]{0,39}$/;

/** Installs it on the whole app; the parameter never reaches the routes' own schemas. */
export function installSparseFields(app: FastifyInstance): void {
  app.decorateRequest('fields', null);
  app.addHook('preValidation', async (request) => {
    if (request.method !== 'GET' && request.method !== 'HEAD') return;
    const query = request.query as Record<string, unknown>;
    if (query.fields === undefined) return;
    request.fields = parseFields(query.fields);
    delete query.fields;
  });
  app.addHook('preSerialization', async (request, reply, payload) =>
    request.fields === null || reply.statusCode !== 200 ? payload : pickFields(payload, request.fields),
  );
}

/** The wanted fields of each item of a list, or of a thing; a field that there is not is left out. */
export function pickFields(answer: unknown, fields: readonly string[] | null): unknown {
  if (fields === null || typeof answer !== 'object' || answer === null) return answer;
  if ('items' in answer && Array.isArray(answer.items)) {
    return { ...answer, items: answer.items.map((item: unknown) => pick(item, fields)) };
  }
  return pick(answer, fields);
}

function pick(thing: unknown, fields: readonly string[]): unknown {
  if (typeof thing !== 'object' || thing === null || Array.isArray(thing)) return thing;
  const own = thing as Readonly<Record<string, unknown>>;
  return Object.fromEntries(fields.flatMap((name) => (Object.hasOwn(own, name) ? [[name, own[name]]] : [])));
}

function parseFields(value: unknown): string[] {
  const names = typeof value === 'string' ? value.split(',').map((name) => name.trim()) : [];
  if (names.length > 0 && names.length <= mostFields && names.every((name) => fieldName.test(name))) return names;
  const message = `Names of fields with commas between, at most ${mostFields}.`;
  throw new ProblemError('invalid-request', `fields: ${message}`, [{ path: 'query.fields', message }]);
}
