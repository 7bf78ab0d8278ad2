/** GET /v1/machines/:machineId/handover: the sheet for the dealer. */

import { type HandoverDocument, handoverQuerySchema, handoverSchema } from '@warmbrick/contracts';
import { gatherHandover, handoverEndMs, renderHandover } from '@warmbrick/reports';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { software } from '../software.js';
import { queryRange } from './query-range.js';
import { machineParamsSchema, machineProblems, requireKnownMachine } from './route-schemas.js';

/** Period of a sheet when none was asked for, and the longest. Source: engineering judgement. */
const usualDays = 30;
const mostDays = 400;

/** The sheet as JSON, CSV, PDF or a page to print. */
export function handoverRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/handover',
      {
        config: { role: 'viewer' },
        schema: {
          summary:
            'Handover sheet: every code, derates and their origin, what was done; as JSON, CSV, PDF or a page to print',
          tags: ['faults'],
          params: machineParamsSchema,
          querystring: handoverQuerySchema,
          response: {
            200: {
              description: 'The sheet.',
              content: {
                'application/json': { schema: handoverSchema },
                'text/csv': { schema: z.string() },
                'text/html': { schema: z.string() },
                'application/pdf': { schema: z.string().meta({ format: 'binary' }) },
              },
            },
            ...machineProblems,
          },
        },
      },
      async ({ store, params: { machineId }, query }, reply) => {
        await requireKnownMachine(store, machineId);
        const machine = await store.getMachine(machineId);
        const lastSampleMs = machine?.lastSampleMs ?? null;
        const usualToMs = await handoverEndMs(store, { machineId, lastSampleMs }, Date.now());
        const period = queryRange(query, { usualToMs, usualDays, mostDays });
        const document = await gatherHandover(store, {
          machineId,
          period,
          isMasked: query.mask === 'true',
          madeAtMs: Date.now(),
          software,
        });
        if (document === null) throw new ProblemError('machine-not-found', `No machine "${machineId}" is known.`);
        const { body, contentType, fileName, contentSecurityPolicy } = await renderHandover(document, query.format);
        if (contentSecurityPolicy !== null) reply.header('Content-Security-Policy', contentSecurityPolicy);
        const disposition = query.format === 'html' ? 'inline' : 'attachment';
        reply.header('Content-Disposition', `${disposition}; filename="${fileName}"`).type(contentType);
        reply.serializer((payload: unknown) => payload as string);
        return (typeof body === 'string' ? body : Buffer.from(body)) as unknown as HandoverDocument;
      },
    );
  };
}
