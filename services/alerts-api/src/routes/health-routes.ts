/** /healthz: the process lives. /readyz: the database answers. /openapi.json and /asyncapi.json: what this API and its topics are. */

import { asyncApiDocument } from '@warmbrick/contracts';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { AppDeps } from '../app-deps.js';
import { problemResponses } from './route-schemas.js';

const okSchema = z.object({ status: z.literal('ok') });

/** What an operator and a load balancer ask. */
export function healthRoutes({ store }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/healthz',
      {
        config: { role: 'open' },
        schema: { summary: 'Whether the process lives', tags: ['health'], response: { 200: okSchema } },
      },
      async (_request, reply) => {
        reply.header('Cache-Control', 'no-store');
        return { status: 'ok' as const };
      },
    );
    app.get(
      '/readyz',
      {
        config: { role: 'open' },
        schema: {
          summary: 'Whether the database answers',
          tags: ['health'],
          response: { 200: okSchema, ...problemResponses(['store-unavailable']) },
        },
      },
      async (_request, reply) => {
        reply.header('Cache-Control', 'no-store');
        await store.ping();
        return { status: 'ok' as const };
      },
    );
    app.get('/asyncapi.json', { config: { role: 'open' }, schema: { hide: true } }, async (_request, reply) => {
      reply.header('Cache-Control', 'no-cache');
      return asyncApiDocument();
    });
    app.get('/openapi.json', { config: { role: 'open' }, schema: { hide: true } }, async (_request, reply) => {
      reply.header('Cache-Control', 'no-cache').serializer((body: unknown) => JSON.stringify(body));
      return app.swagger();
    });
  };
}
