/** /v1/machines/:machineId/profile: what is fixed about one machine, and which fleet it belongs to. */

import { type ProfileDocument, profileDocumentSchema } from '@warmbrick/contracts';
import { machineProfileSchema } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import type { Caller } from '../access/caller.js';
import type { AppDeps } from '../app-deps.js';
import { ProblemError } from '../http/problem.js';
import { machineParamsSchema, problemResponses } from './route-schemas.js';

const tags = ['machines'];
const problems = problemResponses(['invalid-request', 'machine-not-found', 'fleet-not-found', 'store-unavailable']);

/** Reading it, and replacing it as a whole. */
export function profileRoutes({ onProfile }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/profile',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Profile and fleet of one machine',
          tags,
          params: machineParamsSchema,
          response: { 200: profileDocumentSchema, ...problems },
        },
      },
      async ({ params: { machineId }, store }) => profileOf(store, machineId),
    );

    app.put(
      '/machines/:machineId/profile',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'Replaces the profile of one machine; a field that is left out takes its default, the fleet stays',
          tags,
          params: machineParamsSchema,
          body: machineProfileSchema,
          response: {
            200: profileDocumentSchema,
            ...problems,
            ...problemResponses(['role-too-low', 'fleet-not-yours']),
          },
        },
      },
      async ({ params: { machineId }, body, store, caller }) => {
        await requireFleet(store, caller, body.fleet);
        // Who sees all fleets may also register a machine before its first sample comes.
        if (caller.fleets !== 'all') await profileOf(store, machineId);
        await store.putMachine(machineId, body);
        await onProfile?.(machineId, body);
        return profileOf(store, machineId);
      },
    );
  };
}

async function profileOf(store: Store, machineId: string): Promise<ProfileDocument> {
  const profile = await store.loadProfile(machineId);
  const fleetId = (await store.fleetsOf([machineId])).get(machineId);
  if (profile === null || fleetId === undefined) {
    throw new ProblemError('machine-not-found', `No machine "${machineId}" is known. GET /v1/machines lists all.`);
  }
  return { machineId, fleetId, profile };
}

async function requireFleet(store: Store, { fleets }: Caller, fleet: string | undefined): Promise<void> {
  if (fleet === undefined) return;
  if (fleets !== 'all' && !fleets.includes(fleet)) {
    throw new ProblemError('fleet-not-yours', `Your key is not for the fleet "${fleet}".`);
  }
  if ((await store.listFleets()).some(({ fleetId }) => fleetId === fleet)) return;
  throw new ProblemError('fleet-not-found', `There is no fleet "${fleet}". POST /v1/fleets makes one.`);
}
