/** /v1/def-stock: batches of DEF in storage, and what is left of their life. */

import { randomUUID } from 'node:crypto';
import { defBatchLife } from '@warmbrick/analysis';
import { defBatchInputSchema, defBatchListSchema, defBatchSchema, toInstant } from '@warmbrick/contracts';
import type { DefBatch } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { Caller } from '../access/caller.js';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

type BatchInput = z.output<typeof defBatchInputSchema>;

const params = z.strictObject({ batchId: z.string().min(1).max(80) });
const problems = problemResponses([
  'invalid-request',
  'fleet-not-yours',
  'record-not-found',
  'store-unavailable',
  'overloaded',
]);

/** Lists, writes down, corrects and deletes batches. */
export function defBatchRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    const tags = ['service'];
    app.get(
      '/def-stock',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Batches of DEF in storage, oldest first, with what is left of their life',
          tags,
          response: { 200: defBatchListSchema, ...problems },
        },
      },
      async ({ store }) => ({ items: (await store.listDefBatches()).map((batch) => toDocument(batch, Date.now())) }),
    );
    app.post(
      '/def-stock',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Write down a batch',
          tags,
          body: defBatchInputSchema,
          response: { 201: defBatchSchema, ...problems },
        },
      },
      async ({ store, body, caller }, reply) => {
        const batch = toBatch(randomUUID(), body, caller);
        await store.putDefBatch(batch);
        return reply.code(201).send(toDocument(batch, Date.now()));
      },
    );
    app.put(
      '/def-stock/:batchId',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Correct a batch, or say how much of it is left',
          tags,
          params,
          body: defBatchInputSchema,
          response: { 200: defBatchSchema, ...problems },
        },
      },
      async ({ store, params: { batchId }, body, caller }) => {
        const batch = toBatch(batchId, body, caller);
        if (!(await store.listDefBatches()).some(({ id }) => id === batchId)) throw notFound(batchId);
        await store.putDefBatch(batch);
        return toDocument(batch, Date.now());
      },
    );
    app.delete(
      '/def-stock/:batchId',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Take a batch off the list',
          tags,
          params,
          response: { 204: z.null().meta({ description: 'Deleted.' }), ...problems },
        },
      },
      async ({ store, params: { batchId } }, reply) => {
        if (!(await store.deleteDefBatch(batchId))) throw notFound(batchId);
        return reply.code(204).send(null);
      },
    );
  };
}

function toBatch(id: string, input: BatchInput, caller: Caller): DefBatch {
  const { purchasedOn, leftL, fleetId, quantityL, ...rest } = input;
  if (caller.fleets !== 'all' && !caller.fleets.includes(fleetId)) {
    throw new ProblemError('fleet-not-yours', `"${caller.name}" does not see the fleet "${fleetId}".`);
  }
  if (leftL !== undefined && leftL > quantityL) {
    const message = 'No more can be left than was bought.';
    throw new ProblemError('invalid-request', message, [{ path: 'body.leftL', message }]);
  }
  return {
    ...rest,
    ...{ id, fleetId, quantityL, leftL: leftL ?? quantityL },
    purchasedMs: Date.parse(`${purchasedOn}T00:00:00Z`),
    recordedBy: caller.name,
    recordedMs: Date.now(),
  };
}

function toDocument(batch: DefBatch, nowMs: number) {
  const { purchasedMs, recordedMs, ...rest } = batch;
  const { usedRatio, goodUntilMs, state, isTooWarm } = defBatchLife(batch, nowMs);
  return {
    ...rest,
    purchasedOn: new Date(purchasedMs).toISOString().slice(0, 10),
    recordedAt: toInstant(recordedMs),
    ...{ usedRatio, goodUntil: toInstant(goodUntilMs), state, isTooWarm },
  };
}

function notFound(batchId: string): ProblemError {
  return new ProblemError('record-not-found', `No batch "${batchId}". GET /v1/def-stock lists all.`);
}
