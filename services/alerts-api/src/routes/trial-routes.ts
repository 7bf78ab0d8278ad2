/** /v1/trials: comparisons that were kept, so that a set can point to what spoke for it. */

import { createHash } from 'node:crypto';
import { newTrialSchema, toInstant, trialListSchema, trialSchema } from '@warmbrick/contracts';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const tags = ['threshold sets'];
const params = z.strictObject({ trialId: z.string().max(80) });
const problems = problemResponses(['invalid-request', 'whole-installation', 'store-unavailable']);
/** A long comparison of a fleet. */
const bodyLimitBytes = 4 * 1024 * 1024;

/** Trials name machines of every fleet, so only who sees all may read them. */
export function trialRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/trials',
      {
        config: { role: 'engineer' },
        schema: { summary: 'Trials that were kept', tags, response: { 200: trialListSchema, ...problems } },
      },
      async ({ store }) => ({
        items: (await store.listTrials()).map(({ trialId, title, author, createdMs }) => ({
          trialId,
          title,
          author,
          createdAt: toInstant(createdMs),
        })),
      }),
    );

    app.post(
      '/trials',
      {
        bodyLimit: bodyLimitBytes,
        config: { role: 'engineer' },
        schema: {
          summary: 'Keeps a comparison; the same one again is the same trial',
          tags,
          body: newTrialSchema,
          response: { 201: z.object({ trialId: z.string() }), ...problems },
        },
      },
      async ({ body: { title, document }, caller, store }, reply) => {
        const text = JSON.stringify(document);
        const trialId = `trial-${createHash('sha256').update(text).digest('hex').slice(0, 16)}`;
        await store.addTrial({ trialId, title, author: caller.name, document: text });
        reply.code(201).header('Location', `/v1/trials/${trialId}`);
        return { trialId };
      },
    );

    app.get(
      '/trials/:trialId',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'One trial with its document',
          tags,
          params,
          response: { 200: trialSchema, ...problems, ...problemResponses(['trial-not-found']) },
        },
      },
      async ({ params: { trialId }, store }) => {
        const found = await store.getTrial(trialId);
        if (found === null) throw new ProblemError('trial-not-found', `There is no trial "${trialId}".`);
        const { title, author, createdMs, document } = found;
        return { trialId, title, author, createdAt: toInstant(createdMs), document: JSON.parse(document) as unknown };
      },
    );
  };
}
