/** /v1/destinations: who is told of alerts. */

import { randomBytes, randomUUID } from 'node:crypto';
import {
  type DestinationInput,
  destinationInputSchema,
  destinationListSchema,
  destinationSchema,
  destinationWithSecretSchema,
} from '@warmbrick/contracts';
import type { Destination, Store } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { Caller } from '../access/caller.js';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

/** Destinations of one fleet at most. Source: engineering judgement. */
const mostDestinations = 200;
/** Source: Standard Webhooks specification, "Signature scheme": 24 to 64 bytes. */
const secretBytes = 32;
/** Source: Standard Webhooks specification, "Key rotation": old and new sign together for a while. */
const liveSecrets = 2;

const params = z.strictObject({ destinationId: z.string().min(1).max(80) });
const problems = problemResponses([
  'invalid-request',
  'fleet-not-yours',
  'destination-not-found',
  'too-many-destinations',
  'store-unavailable',
  'overloaded',
]);

/** Lists, makes, changes and deletes destinations, and changes their secrets. */
export function destinationRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    const tags = ['notifications'];
    app.get(
      '/destinations',
      {
        config: { role: 'viewer' },
        schema: { summary: 'Who is told of alerts', tags, response: { 200: destinationListSchema, ...problems } },
      },
      async ({ store }) => ({ items: (await store.listDestinations()).map(toDocument) }),
    );
    app.post(
      '/destinations',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'A new destination; the secret that signs is shown this once',
          tags,
          body: destinationInputSchema,
          response: { 201: destinationWithSecretSchema, ...problems },
        },
      },
      async ({ body, store, caller }, reply) => {
        requireFleet(caller, body.fleetId);
        const others = (await store.listDestinations()).filter(({ fleetId }) => fleetId === body.fleetId);
        if (others.length >= mostDestinations) {
          throw new ProblemError('too-many-destinations', `A fleet has at most ${mostDestinations} destinations.`);
        }
        const secret = body.kind === 'webhook' ? newSecret() : null;
        const destination = toDestination(randomUUID(), body, secret === null ? [] : [secret]);
        await store.putDestination(destination);
        return reply.code(201).send({ ...toDocument(destination), secret });
      },
    );
    app.put(
      '/destinations/:destinationId',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'Replace a destination; its secrets stay',
          tags,
          params,
          body: destinationInputSchema,
          response: { 200: destinationSchema, ...problems },
        },
      },
      async ({ params: { destinationId }, body, store, caller }) => {
        requireFleet(caller, body.fleetId);
        const { secrets } = await find(store, destinationId);
        const isSigning = body.kind === 'webhook';
        const kept = isSigning && secrets.length === 0 ? [newSecret()] : isSigning ? secrets : [];
        const destination = toDestination(destinationId, body, kept);
        await store.putDestination(destination);
        return toDocument(destination);
      },
    );
    app.delete(
      '/destinations/:destinationId',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'Delete a destination with everything that waits for it',
          tags,
          params,
          response: { 204: z.null().meta({ description: 'Deleted.' }), ...problems },
        },
      },
      async ({ params: { destinationId }, store }, reply) => {
        if (!(await store.deleteDestination(destinationId))) throw notFound(destinationId);
        return reply.code(204).send(null);
      },
    );
    app.post(
      '/destinations/:destinationId/rotate-secret',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'A new secret, shown this once; the one before goes on signing beside it until the next change',
          tags,
          params,
          response: { 200: destinationWithSecretSchema, ...problems },
        },
      },
      async ({ params: { destinationId }, store }) => {
        const destination = await find(store, destinationId);
        if (destination.kind !== 'webhook') {
          throw new ProblemError('invalid-request', 'Only a webhook is signed.');
        }
        const secret = newSecret();
        const changed = { ...destination, secrets: [secret, ...destination.secrets].slice(0, liveSecrets) };
        await store.putDestination(changed);
        return { ...toDocument(changed), secret };
      },
    );
  };
}

function newSecret(): string {
  return `whsec_${randomBytes(secretBytes).toString('base64')}`;
}

function toDestination(id: string, input: DestinationInput, secrets: readonly string[]): Destination {
  const digestMinutes = input.kind === 'mail' ? input.digestMinutes : null;
  return { id, ...input, digestMinutes, secrets };
}

function toDocument({ secrets, ...shown }: Destination) {
  return {
    ...shown,
    sites: [...shown.sites],
    machineIds: [...shown.machineIds],
    rules: [...shown.rules],
    liveSecrets: secrets.length,
  };
}

async function find(store: Store, destinationId: string): Promise<Destination> {
  const found = (await store.listDestinations()).find(({ id }) => id === destinationId);
  if (found === undefined) throw notFound(destinationId);
  return found;
}

function notFound(destinationId: string): ProblemError {
  return new ProblemError(
    'destination-not-found',
    `No destination "${destinationId}". GET /v1/destinations lists all.`,
  );
}

function requireFleet({ fleets, name }: Caller, fleetId: string): void {
  if (fleets === 'all' || fleets.includes(fleetId)) return;
  throw new ProblemError('fleet-not-yours', `"${name}" does not see the fleet "${fleetId}".`);
}
