/** /v1/audit: what was done, and whether the log of it is whole. */

import {
  type AuditEntryDocument,
  auditCheckSchema,
  auditListSchema,
  auditQuerySchema,
  toInstant,
} from '@warmbrick/contracts';
import type { AuditEntry } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import type { AppDeps } from '../app-deps.js';
import { parseInstant } from '../http/instant.js';
import { problemResponses } from './route-schemas.js';

const tags = ['access'];
const problems = problemResponses(['invalid-request', 'bad-cursor', 'store-unavailable']);

/** Entries of the caller's fleets; who sees all fleets sees all entries. */
export function auditRoutes({ store: whole }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/audit',
      {
        config: { role: 'admin' },
        schema: {
          summary: 'What was done by whom, newest first',
          tags,
          querystring: auditQuerySchema,
          response: { 200: auditListSchema, ...problems },
        },
      },
      async ({ query, store }) => {
        const { limit, cursor, actor, from, to } = query;
        const fromMs = from === undefined ? undefined : parseInstant(from);
        const toMs = to === undefined ? undefined : parseInstant(to);
        const page = await store.listAudit({ limit, cursor, actorId: actor, fromMs, toMs });
        return { items: page.items.map(auditDocument), nextCursor: page.nextCursor };
      },
    );
    app.get(
      '/audit/check',
      {
        config: { role: 'admin' },
        schema: {
          summary: 'Computes the chain of the audit log anew, and says where it breaks first',
          tags,
          response: { 200: auditCheckSchema, ...problems },
        },
      },
      // The chain is one for all fleets, and nothing but its length is told.
      async () => whole.checkAudit(),
    );
  };
}

function auditDocument({ atMs, hash, ...entry }: AuditEntry): AuditEntryDocument {
  return { ...entry, at: toInstant(atMs), hash: Buffer.from(hash).toString('hex') };
}
