import { roles } from '@warmbrick/contracts';
import Fastify, { type FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { enforceRoles } from '../../services/alerts-api/src/access/enforce-roles.js';
import { makeKey } from '../../services/alerts-api/src/access/key-text.js';
import { installProblemHandlers } from '../../services/alerts-api/src/http/problem-handlers.js';
import { createMemoryStore } from './memory-store.js';
import { startTestApp } from './test-app.js';

interface Operation {
  readonly 'x-least-role'?: string;
  readonly security?: readonly object[];
  readonly responses: Record<string, unknown>;
}

describe('the description of the API', () => {
  it('names the least role of every route, and only health and signing in are open', async () => {
    const telemetry = { receive: () => Promise.reject(new Error('not asked here')) };
    const { app } = await startTestApp({ telemetry });
    const { paths } = (await app.inject('/openapi.json')).json() as {
      paths: Record<string, Record<string, Operation>>;
    };
    await app.close();
    const operations = Object.entries(paths).flatMap(([path, methods]) =>
      Object.entries(methods).map(([method, operation]) => ({ name: `${method} ${path}`, operation })),
    );
    expect(operations.length).toBeGreaterThan(8);
    for (const { name, operation } of operations) {
      const role = operation['x-least-role'];
      expect([...roles, 'open'], name).toContain(role);
      expect(operation.security?.length === 0, name).toBe(role === 'open');
      if (role !== 'open')
        expect(Object.keys(operation.responses), name).toEqual(expect.arrayContaining(['401', '403']));
    }
    const open = operations.filter(({ operation }) => operation['x-least-role'] === 'open').map(({ name }) => name);
    expect(open.sort()).toEqual(['delete /v1/session', 'get /healthz', 'get /readyz', 'post /v1/session']);
  });
});

describe('roles', () => {
  let app: FastifyInstance;
  beforeEach(async () => {
    app = Fastify();
    installProblemHandlers(app, { sendPage: () => false });
    enforceRoles(app, {
      store: createMemoryStore(),
      identify: async ({ headers }) =>
        headers.role === undefined ? null : { keyId: 'k', name: 'k', role: headers.role as 'viewer', fleets: 'all' },
    });
    for (const role of [...roles, 'open'] as const) app.get(`/${role}`, { config: { role } }, async () => 'in');
    app.get('/undeclared', async () => 'in');
  });
  afterEach(() => app.close());
  const statusFor = async (url: string, role?: string) =>
    (await app.inject({ url, headers: role === undefined ? {} : { role } })).statusCode;

  it('let in whoever has at least the role of the route', async () => {
    for (const [at, role] of roles.entries()) {
      for (const [needed, url] of roles.entries()) {
        expect(await statusFor(`/${url}`, role), `${role} at ${url}`).toBe(at >= needed ? 200 : 403);
      }
    }
  });

  it('are not asked for on open routes, and nobody gets in elsewhere without saying who it is', async () => {
    expect(await statusFor('/open')).toBe(200);
    for (const role of roles) expect(await statusFor(`/${role}`), role).toBe(401);
  });

  it('a route that declares none is for admins', async () => {
    expect(await statusFor('/undeclared', 'engineer')).toBe(403);
    expect(await statusFor('/undeclared', 'admin')).toBe(200);
  });
});

describe('the rate of requests', () => {
  it('is counted by key, so that several behind one address do not hold each other up', async () => {
    const { app, store } = await startTestApp({ limits: { requestsPerMinute: 3 } });
    const keys = await Promise.all(
      ['a', 'b'].map(async (name) => {
        const { keyId, text, secret } = makeKey();
        await store.addKey({ keyId, name, role: 'viewer', fleets: 'all', createdBy: 'test', expiresMs: null }, secret);
        return text;
      }),
    );
    const statusFor = async (key: string | undefined) =>
      (await app.inject({ url: '/v1/caller', headers: { authorization: `Bearer ${key}` } })).statusCode;
    const first = [];
    for (let n = 0; n < 4; n++) first.push(await statusFor(keys[0]));
    expect(first).toEqual([200, 200, 200, 429]);
    expect(await statusFor(keys[1])).toBe(200);
    await app.close();
  });
});
