/** Findings of one machine and of all, and the runs of an engine. */

import { findingKinds, severities } from '@warmbrick/analysis';
import {
  allFindingsQuerySchema,
  type FindingList,
  findingListQuerySchema,
  findingListSchema,
  runListSchema,
  runQuerySchema,
  toFindingDocument,
} from '@warmbrick/contracts';
import type { FindingPage, Store } from '@warmbrick/store';
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

    app.get(
      '/machines/:machineId/runs',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Runs of the engine of one machine, newest first',
          tags: ['machines'],
          params: machineParamsSchema,
          querystring: runQuerySchema,
          response: { 200: runListSchema, ...machineProblems },
        },
      },
      async ({ params: { machineId }, query, store }) => {
        await requireMachine(store, machineId);
        return listed(store, { ...query, machineId, kinds: ['engine-run'] });
      },
    );

    app.get(
      '/findings',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Findings of all machines, newest first',
          tags: ['findings'],
          querystring: allFindingsQuerySchema,
          response: { 200: findingListSchema, ...machineProblems },
        },
      },
      async ({ query, store }) => {
        const { fleet, kind, severity, ...rest } = query;
        return listed(store, {
          ...rest,
          fleets: fleet === undefined ? undefined : [fleet],
          kinds: kind === undefined ? undefined : parseKinds(kind),
          severities: severity === undefined ? undefined : parseNames(severity, severities, 'severity'),
        });
      },
    );
  };
}

type Asked = Omit<FindingPage, 'fromMs' | 'toMs'> & { from?: string | undefined; to?: string | undefined };

async function listed(store: Store, { from, to, ...page }: Asked): Promise<FindingList> {
  const fromMs = from === undefined ? undefined : parseInstant(from);
  const toMs = to === undefined ? undefined : parseInstant(to);
  const { items, nextCursor } = await store.listFindings({ ...page, fromMs, toMs });
  return { items: items.map(toFindingDocument), nextCursor };
}

function parseKinds(text: string): string[] {
  return parseNames(text, findingKinds, 'kind');
}

function parseNames(text: string, known: readonly string[], parameter: string): string[] {
  const names = text.split(',').map((name) => name.trim());
  const unknown = names.filter((name) => !known.includes(name));
  if (unknown.length === 0) return [...new Set(names)];
  const message = `No such ${parameter}: ${unknown.join(', ')}. Known are ${known.join(', ')}.`;
  throw new ProblemError('invalid-request', message, [{ path: `query.${parameter}`, message }]);
}
