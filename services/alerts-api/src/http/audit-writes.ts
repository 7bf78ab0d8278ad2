/** Writes down who does what before it is done, so that nothing changes without an entry. */

import type { Store } from '@warmbrick/store';
import type { FastifyInstance, FastifyRequest } from 'fastify';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** False for what changes nothing that anybody would ask about later: telemetry, signing in. */
    audit?: false;
  }
}

/** Characters of a body that are kept. */
const longestDetail = 2000;
/** Fields that are never written down. */
const secretField = /secret|password|token|^key$|authorization/i;

/** Installs it on the whole app. An entry that cannot be written refuses the request. */
export function auditWrites(app: FastifyInstance, store: Store): void {
  app.addHook('preHandler', async (request) => {
    if (isRead(request) || request.is404 || request.caller === undefined) return;
    if (request.routeOptions.config.audit === false) return;
    await store.appendAudit(entryOf(request, request.body));
  });
  app.addHook('onSend', async (request, reply) => {
    if (isRead(request) || reply.statusCode < 400 || request.caller === undefined) return;
    if (request.routeOptions.config.audit === false || request.is404) return;
    // Refusals by role are told of too; that the entry before came to nothing must not be lost to a second failure.
    const entry = { ...entryOf(request, null), detail: JSON.stringify({ refused: reply.statusCode }) };
    await store.appendAudit(entry).catch((error: unknown) => {
      request.log.error({ err: error }, 'the audit log could not be written');
    });
  });
}

function isRead({ method }: FastifyRequest): boolean {
  return method === 'GET' || method === 'HEAD' || method === 'OPTIONS';
}

function entryOf(request: FastifyRequest, body: unknown) {
  const { caller, params } = request;
  const { fleets } = caller;
  return {
    actorId: caller.keyId,
    actorName: caller.name,
    action: `${request.method} ${request.routeOptions.url ?? ''}`,
    target: Object.values((params ?? {}) as Record<string, string>).join(' '),
    fleetId: fleets !== 'all' && fleets.length === 1 ? (fleets[0] ?? null) : null,
    detail: body === null || body === undefined ? '{}' : detailOf(body),
  };
}

function detailOf(body: unknown): string {
  const text = JSON.stringify(body, (name, value: unknown) => (secretField.test(name) ? '***' : value)) ?? '{}';
  return text.length <= longestDetail ? text : JSON.stringify({ cut: text.slice(0, longestDetail) });
}
