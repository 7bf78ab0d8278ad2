/** /v1/deliveries: what was sent about alerts, and what became of it. */

import { deliveryListQuerySchema, deliveryListSchema, deliveryLogSchema, toInstant } from '@warmbrick/contracts';
import type { Delivery } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const params = z.strictObject({ deliveryId: z.string().min(1).max(80) });
const problems = problemResponses([
  'invalid-request',
  'bad-cursor',
  'delivery-not-found',
  'store-unavailable',
  'overloaded',
]);

/** Lists deliveries, shows the log of each, and sends one again. */
export function deliveryRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    const tags = ['notifications'];
    app.get(
      '/deliveries',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Messages about alerts, newest first',
          tags,
          querystring: deliveryListQuerySchema,
          response: { 200: deliveryListSchema, ...problems },
        },
      },
      async ({ query, store }) => {
        const page = await store.listDeliveries(query);
        return { items: page.items.map(toDocument), nextCursor: page.nextCursor };
      },
    );
    app.get(
      '/deliveries/:deliveryId/attempts',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'The log of one message, try by try',
          tags,
          params,
          response: { 200: deliveryLogSchema, ...problems },
        },
      },
      async ({ params: { deliveryId }, store }) => {
        const log = await store.deliveryAttempts(deliveryId);
        if (log === null) throw notFound(deliveryId);
        return { items: log.map(({ atMs, ...attempt }) => ({ at: toInstant(atMs), ...attempt })) };
      },
    );
    app.post(
      '/deliveries/:deliveryId/resend',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Send a message once more, with the same id and the same bytes',
          tags,
          params,
          response: { 202: z.object({ id: z.string() }), ...problems },
        },
      },
      async ({ params: { deliveryId }, store }, reply) => {
        if (!(await store.resendDelivery(deliveryId, Date.now()))) throw notFound(deliveryId);
        return reply.code(202).send({ id: deliveryId });
      },
    );
  };
}

function toDocument(delivery: Delivery) {
  const instant = (timeMs: number | null) => (timeMs === null ? null : toInstant(timeMs));
  return {
    id: delivery.id,
    destinationId: delivery.destinationId,
    machineId: delivery.machineId,
    episodeId: delivery.threadId,
    subject: delivery.subject,
    state: delivery.state,
    attempts: delivery.attempts,
    createdAt: toInstant(delivery.createdMs),
    firstTriedAt: instant(delivery.firstTriedMs),
    sentAt: instant(delivery.sentMs),
    dueAt: delivery.state === 'waiting' ? toInstant(delivery.availableMs) : null,
  };
}

function notFound(deliveryId: string): ProblemError {
  return new ProblemError('delivery-not-found', `No delivery "${deliveryId}". GET /v1/deliveries lists all.`);
}
