/** /v1/fleets: which fleets there are. */

import {
  type FleetDocument,
  fleetChangeSchema,
  fleetIdSchema,
  fleetListSchema,
  fleetSchema,
  newFleetSchema,
  toInstant,
} from '@warmbrick/contracts';
import type { Fleet, Store } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const tags = ['fleets'];
const params = z.strictObject({ fleetId: fleetIdSchema });
const problems = problemResponses(['invalid-request', 'store-unavailable']);

/** The fleets that the caller sees. A machine joins one by its profile or by `PUT /v1/machines/{machineId}/profile`. */
export function fleetRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/fleets',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Fleets with the number of their machines',
          tags,
          response: { 200: fleetListSchema, ...problems },
        },
      },
      async ({ store }) => ({ items: (await store.listFleets()).map(fleetDocument) }),
    );

    app.post(
      '/fleets',
      {
        config: { role: 'admin' },
        schema: {
          summary: 'Makes a fleet',
          tags,
          body: newFleetSchema,
          response: { 201: fleetSchema, ...problems, ...problemResponses(['fleet-exists']) },
        },
      },
      async ({ body, store }, reply) => {
        const { fleetId, name } = body;
        if (!(await store.addFleet({ fleetId, name }))) {
          throw new ProblemError(
            'fleet-exists',
            `There is a fleet "${fleetId}" already. PATCH /v1/fleets/${fleetId} renames it.`,
          );
        }
        reply.code(201).header('Location', `/v1/fleets/${fleetId}`);
        return requireFleet(store, fleetId);
      },
    );

    app.patch(
      '/fleets/:fleetId',
      {
        config: { role: 'admin' },
        schema: {
          summary: 'Renames a fleet',
          tags,
          params,
          body: fleetChangeSchema,
          response: { 200: fleetSchema, ...problems, ...problemResponses(['fleet-not-found']) },
        },
      },
      async ({ params: { fleetId }, body, store }) => {
        if (!(await store.renameFleet(fleetId, body.name))) throw notFound(fleetId);
        return requireFleet(store, fleetId);
      },
    );
  };
}

async function requireFleet(store: Store, fleetId: string): Promise<FleetDocument> {
  const fleet = (await store.listFleets()).find((it) => it.fleetId === fleetId);
  if (fleet === undefined) throw notFound(fleetId);
  return fleetDocument(fleet);
}

function notFound(fleetId: string): ProblemError {
  return new ProblemError('fleet-not-found', `There is no fleet "${fleetId}". GET /v1/fleets lists all.`);
}

function fleetDocument({ fleetId, name, createdMs, machines }: Fleet): FleetDocument {
  return { fleetId, name, createdAt: toInstant(createdMs), machines };
}
