/** Sends an answer that is ready: tagged, and compressed as the client can read it. */

import type { FastifyReply, FastifyRequest } from 'fastify';
import type { ReadyAnswer } from '../routes/answer-cache.js';
import { isKnownTag } from './entity-tags.js';

/** Smaller ones are sent as they are, in characters. */
const compressFrom = 1400;

/** Sends it, or 304 to a client that has it. Source: RFC 9110, 13.1.2 and 12.5.3. */
export async function sendReady(
  request: FastifyRequest,
  reply: FastifyReply,
  answer: ReadyAnswer,
): Promise<FastifyReply> {
  reply.header('ETag', answer.tag).header('Vary', 'accept-encoding');
  if (isKnownTag(request.headers['if-none-match'], answer.tag)) return reply.code(304).send();
  reply.type('application/json; charset=utf-8').serializer((body: unknown) => body as string);
  const encoding = answer.json.length < compressFrom ? null : bestEncoding(request.headers['accept-encoding']);
  if (encoding === null) return reply.send(answer.json);
  return reply.header('Content-Encoding', encoding).send(await answer.compressed(encoding));
}

/** What a client prefers of what we have; one that says nothing gets it as it is. */
function bestEncoding(accepted: string | string[] | undefined): 'br' | 'gzip' | null {
  const text = String(accepted ?? '');
  const isTaken = (name: string) =>
    new RegExp(`(^|[\\s,])${name}(?!\\s*;\\s*q=0(\\.0*)?([\\s,]|$))([\\s,;]|$)`).test(text);
  if (isTaken('br')) return 'br';
  return isTaken('gzip') ? 'gzip' : null;
}
