/** /v1/keys: API keys. A key is shown once, when it is made or rotated. */

import {
  type FreshKeyDocument,
  freshKeySchema,
  type KeyDocument,
  keyListSchema,
  keySchema,
  newKeySchema,
  type Role,
  rotationSchema,
  toInstant,
} from '@warmbrick/contracts';
import type { ApiKey, Store } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { Access } from '../access/access.js';
import { type FreshKey, makeKey } from '../access/key-text.js';
import { isLiveAdminKey } from '../access/keyring.js';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const params = z.strictObject({ keyId: z.string().min(1).max(60) });
const problems = problemResponses(['invalid-request', 'key-not-found', 'store-unavailable']);
const tags = ['access'];
/** The answer holds a secret: what is kept for repeating it does not. */
const secretAnswer = { secretFields: ['key'] };

/** The keys that the caller may see: those for fleets of their own. */
export function keyRoutes(access: Access): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/keys',
      {
        config: { role: 'admin' },
        schema: { summary: 'API keys, newest first', tags, response: { 200: keyListSchema, ...problems } },
      },
      async ({ store }) => ({ items: (await store.listKeys()).map(keyDocument) }),
    );

    app.post(
      '/keys',
      {
        config: { role: 'admin', ...secretAnswer },
        schema: {
          summary: 'Makes an API key, and shows it once',
          tags,
          body: newKeySchema,
          response: { 201: freshKeySchema, ...problems, ...problemResponses(['fleet-not-yours']) },
        },
      },
      async ({ body, store, caller }, reply) => {
        const { name, role, fleets, expiresInS } = body;
        const own = caller.fleets;
        const isWithin = own === 'all' || (fleets !== 'all' && fleets.every((fleet) => own.includes(fleet)));
        if (!isWithin) throw new ProblemError('fleet-not-yours', 'A key can be for fleets of your own only.');
        const fresh = makeKey();
        const expiresMs = expiresInS === null ? null : Date.now() + expiresInS * 1000;
        await store.addKey(
          { keyId: fresh.keyId, name, role, fleets, createdBy: caller.keyId, expiresMs },
          fresh.secret,
        );
        access.keyring.forget();
        reply.code(201).header('Location', `/v1/keys/${fresh.keyId}`);
        return freshDocument(await requireKey(store, fresh.keyId), fresh);
      },
    );

    app.post(
      '/keys/:keyId/rotate',
      {
        config: { role: 'admin', ...secretAnswer },
        schema: {
          summary: 'Gives a key a new secret, and shows it once; the one before stays good for the overlap',
          tags,
          params,
          body: rotationSchema.nullish(),
          response: { 200: freshKeySchema, ...problems },
        },
      },
      async ({ params: { keyId }, body, store }) => {
        const fresh = makeKey((await requireKey(store, keyId)).keyId);
        const overlapMs = (body ?? rotationSchema.parse({})).overlapS * 1000;
        if (!(await store.rotateKey(keyId, fresh.secret, overlapMs))) throw notFound(keyId);
        access.keyring.forget();
        return freshDocument(await requireKey(store, keyId), fresh);
      },
    );

    app.delete(
      '/keys/:keyId',
      {
        config: { role: 'admin' },
        schema: {
          summary: 'Revokes a key, at once and for good',
          tags,
          params,
          response: { 200: keySchema, ...problems, ...problemResponses(['last-admin-key']) },
        },
      },
      async ({ params: { keyId }, store }) => {
        await requireKey(store, keyId);
        await requireOtherWayIn(access, store, keyId);
        if (!(await store.revokeKey(keyId))) throw notFound(keyId);
        access.keyring.forget();
        return keyDocument(await requireKey(store, keyId));
      },
    );
  };
}

async function requireKey(store: Store, keyId: string): Promise<ApiKey> {
  const key = await store.getKey(keyId);
  if (key === null) throw notFound(keyId);
  return key;
}

function notFound(keyId: string): ProblemError {
  return new ProblemError('key-not-found', `There is no live key "${keyId}". GET /v1/keys lists all.`);
}

/** Errors: the problem `last-admin-key` when nobody could get in any more. */
async function requireOtherWayIn(access: Access, store: Store, keyId: string): Promise<void> {
  if (access.hasOtherWayIn) return;
  const admins = (await store.listKeys()).filter((key) => isLiveAdminKey(key, Date.now()));
  if (admins.length !== 1 || admins[0]?.keyId !== keyId) return;
  throw new ProblemError('last-admin-key', 'Make another key for an admin of all fleets first, or nobody gets in.');
}

function freshDocument(key: ApiKey, fresh: FreshKey): FreshKeyDocument {
  return { ...keyDocument(key), key: fresh.text };
}

function keyDocument(key: ApiKey): KeyDocument {
  const isExpired = key.expiresMs !== null && key.expiresMs <= Date.now();
  return {
    keyId: key.keyId,
    name: key.name,
    role: key.role as Role,
    fleets: key.fleets === 'all' ? 'all' : [...key.fleets],
    createdAt: toInstant(key.createdMs),
    createdBy: key.createdBy,
    expiresAt: instantOrNull(key.expiresMs),
    revokedAt: instantOrNull(key.revokedMs),
    lastUsedAt: instantOrNull(key.lastUsedMs),
    state: key.revokedMs !== null ? 'revoked' : isExpired ? 'expired' : 'live',
    secrets: key.secrets.map(({ hint, madeMs, untilMs }) => ({
      hint,
      madeAt: toInstant(madeMs),
      until: instantOrNull(untilMs),
    })),
  };
}

function instantOrNull(atMs: number | null): string | null {
  return atMs === null ? null : toInstant(atMs);
}
