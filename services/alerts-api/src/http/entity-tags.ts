/** Weak entity tags on what is read, and 304 for a client that already has it. */

import { createHash } from 'node:crypto';
import type { FastifyInstance } from 'fastify';

/**
 * Tags each successful answer to GET and HEAD that has a body in memory and no tag yet.
 *
 * Weak, because compression comes after it. Source: RFC 9110, 8.8.3 and 13.1.2.
 */
export function installEntityTags(app: FastifyInstance): void {
  app.addHook('onSend', async (request, reply, payload) => {
    const isRead = request.method === 'GET' || request.method === 'HEAD';
    if (!isRead || reply.statusCode !== 200 || reply.hasHeader('etag')) return payload;
    if (typeof payload !== 'string' && !Buffer.isBuffer(payload)) return payload;
    const tag = `W/"${createHash('sha1').update(payload).digest('base64url')}"`;
    reply.header('ETag', tag);
    if (!isKnownTag(request.headers['if-none-match'], tag)) return payload;
    reply.code(304).removeHeader('content-type').removeHeader('content-length');
    return null;
  });
}

/** Weak comparison of the tags a client has with ours. */
export function isKnownTag(ifNoneMatch: string | undefined, tag: string): boolean {
  if (ifNoneMatch === undefined) return false;
  return ifNoneMatch.split(',').some((piece) => {
    const known = piece.trim();
    return known === '*' || known === tag || `W/${known}` === tag;
  });
}
