/** GET /v1/machines/:machineId/findings. */

import { findingKinds } from '@warmbrick/analysis';
import { findingListQuerySchema, findingListSchema, toFindingDocument } from '@warmbrick/contracts';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { parseInstant } from '../http/instant.js';
import { ProblemError } from '../http/problem.js';
import { machineParamsSchema, machineProblems, requireMachine } from './route-schemas.js';

/** The findings of one machine, page by page. */
export function findingRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/findings',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Findings of one machine',
          tags: ['machines'],
          params: machineParamsSchema,
          querystring: findingListQuerySchema,
          response: { 200: findingListSchema, ...machineProblems },
        },
      },
      async (request) => {
        const { machineId } = request.params;
        const { limit, cursor, from, to, kind } = request.query;
        const kinds = kind === undefined ? undefined : parseKinds(kind);
        const { store } = request;
        await requireMachine(store, machineId);
        const fromMs = from === undefined ? undefined : parseInstant(from);
        const toMs = to === undefined ? undefined : parseInstant(to);
        const page = await store.listFindings({ machineId, limit, cursor, fromMs, toMs, kinds });
        return { items: page.items.map(toFindingDocument), nextCursor: page.nextCursor };
      },
    );
  };
}

function parseKinds(text: string): string[] {
  const kinds = text.split(',').map((kind) => kind.trim());
  const known: readonly string[] = findingKinds;
  const unknown = kinds.filter((kind) => !known.includes(kind));
  if (unknown.length === 0) return [...new Set(kinds)];
  const message = `No such kind: ${unknown.join(', ')}. Known are ${known.join(', ')}.`;
  throw new ProblemError('invalid-request', message, [{ path: 'query.kind', message }]);
}
