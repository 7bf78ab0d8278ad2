import { setTimeout as sleep } from 'node:timers/promises';
import { freshKeySchema, keyListSchema } from '@warmbrick/contracts';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeKey } from '../../services/alerts-api/src/access/key-text.js';
import { runSql } from '../store/postgres.js';
import { type ApiWorld, asKey, startApiWorld } from './api-world.js';

let world: ApiWorld;
let address: string;
beforeAll(async () => {
  world = await startApiWorld({ limits: { heartbeatMs: 100 } });
  address = await world.app.listen({ port: 0, host: '127.0.0.1' });
});
afterAll(() => world.stop());

const admin = () => asKey(world.keys.admin);
const json = { 'content-type': 'application/json' };
async function post(url: string, body: unknown, headers: Record<string, string> = admin()) {
  return world.app.inject({ method: 'POST', url, headers: { ...json, ...headers }, payload: JSON.stringify(body) });
}
const statusFor = async (key: string, url = '/v1/machines') =>
  (await world.app.inject({ url, headers: asKey(key) })).statusCode;
async function makeOne(body: object) {
  return freshKeySchema.parse((await post('/v1/keys', { name: 'gate', role: 'viewer', ...body })).json());
}

describe('a key', () => {
  it('is shown once, and kept nowhere as it is', async () => {
    const made = await makeOne({ name: 'shown once' });
    const secret = made.key?.slice('wbk_0123456789ab_'.length) ?? '';
    expect(secret).toMatch(/^[\w-]{43}$/);
    const list = await world.app.inject({ url: '/v1/keys', headers: admin() });
    const listed = keyListSchema.parse(list.json()).items.find(({ keyId }) => keyId === made.keyId);
    expect(listed).toMatchObject({ state: 'live', secrets: [{ hint: secret.slice(0, 4), until: null }] });
    const places = [list.body, world.log(), JSON.stringify(await world.store.listAudit({ limit: 500 }))];
    for (const table of ['api_key', 'api_key_secret', 'repeatable_answer', 'audit_entry']) {
      places.push(JSON.stringify(await runSql(world.url, `SELECT row_to_json(t)::text FROM ${table} t`)));
    }
    for (const place of places) expect(place.includes(secret)).toBe(false);
  });

  it('has two live secrets while whoever uses it changes over, and none once it is revoked', async () => {
    const made = await makeOne({});
    const turned = freshKeySchema.parse((await post(`/v1/keys/${made.keyId}/rotate`, { overlapS: 60 })).json());
    expect([await statusFor(made.key ?? ''), await statusFor(turned.key ?? '')]).toEqual([200, 200]);
    const again = freshKeySchema.parse((await post(`/v1/keys/${made.keyId}/rotate`, { overlapS: 0 })).json());
    const statuses = await Promise.all([made.key, turned.key, again.key].map((key) => statusFor(key ?? '')));
    expect(statuses).toEqual([401, 401, 200]);
    const gone = await world.app.inject({ method: 'DELETE', url: `/v1/keys/${made.keyId}`, headers: admin() });
    expect(gone.json().state).toBe('revoked');
    const refused = await world.app.inject({ url: '/v1/machines', headers: asKey(again.key ?? '') });
    expect([refused.statusCode, refused.json().code]).toEqual([401, 'key-revoked']);
    expect(refused.headers['www-authenticate']).toMatch(/^Bearer/);
    expect((await post(`/v1/keys/${made.keyId}/rotate`, {})).statusCode).toBe(404);
  });

  it('cannot be told from a wrong one by the answer', async () => {
    const [, id] = (world.keys.viewer ?? '').split('_');
    const wrong = await world.app.inject({ url: '/v1/machines', headers: asKey(`wbk_${id}_${'A'.repeat(43)}`) });
    const none = await world.app.inject({ url: '/v1/machines', headers: asKey(`wbk_000000000000_${'A'.repeat(43)}`) });
    expect(wrong.body).toBe(none.body);
    expect(wrong.json().code).toBe('key-invalid');
  });

  it('hands on no more than its maker has', async () => {
    const north = asKey(world.keys['north-admin']);
    for (const fleets of ['all', ['south'], ['north', 'south']]) {
      expect((await post('/v1/keys', { name: 'more', role: 'viewer', fleets }, north)).json().code).toBe(
        'fleet-not-yours',
      );
    }
    const made = await post('/v1/keys', { name: 'same', role: 'admin', fleets: ['north'] }, north);
    expect(made.statusCode).toBe(201);
    const { items } = keyListSchema.parse((await world.app.inject({ url: '/v1/keys', headers: north })).json());
    expect(items.length).toBeGreaterThan(4);
    expect(items.every(({ fleets }) => JSON.stringify(fleets) === '["north"]')).toBe(true);
  });
});

describe('a stolen key that has expired', () => {
  it('opens nothing, ends the stream it had opened, and is told of in the log', async () => {
    const { keyId, text, secret } = makeKey();
    const expiresMs = Date.now() + 1200;
    const key = { keyId, name: 'lent tablet', role: 'admin', fleets: 'all', createdBy: 'test', expiresMs } as const;
    await world.store.addKey(key, secret);
    const stream = await fetch(`${address}/v1/stream`, { headers: asKey(text) });
    expect(stream.status).toBe(200);
    expect(await statusFor(text)).toBe(200);
    await sleep(expiresMs - Date.now() + 50);

    // The stream ends by itself; what was being read ends with it.
    for await (const _ of stream.body ?? []);
    for (const [method, url] of [
      ['GET', '/v1/machines'],
      ['GET', '/v1/keys'],
      ['POST', `/v1/keys/${keyId}/rotate`],
      ['GET', '/v1/stream'],
    ] as const) {
      const answer = await world.app.inject({ method, url, headers: asKey(text) });
      expect([answer.statusCode, answer.json().code], url).toEqual([401, 'key-expired']);
    }
    const asCookie = { cookie: `warmbrick-session=${text}` };
    expect((await world.app.inject({ url: '/v1/machines', headers: asCookie })).json().code).toBe('key-expired');
    const signIn = await post('/v1/session', { key: text }, {});
    expect([signIn.statusCode, signIn.headers['set-cookie']]).toEqual([401, undefined]);
    await sleep(50);
    const { items } = await world.store.listAudit({ limit: 20 });
    expect(items.find(({ action }) => action === 'key refused')).toMatchObject({ actorId: keyId });
    expect(world.log()).toContain('a key was refused');
    expect(world.log()).not.toContain(text.slice(20));
  });
});

describe('signing in on the pages', () => {
  const own = { 'sec-fetch-site': 'same-origin' };
  it('puts the key into a cookie that no script reads and no other site sends', async () => {
    const answer = await post('/v1/session', { key: world.keys.engineer }, own);
    expect(answer.json()).toMatchObject({ role: 'engineer', isSignedIn: true });
    const cookie = String(answer.headers['set-cookie']);
    expect(cookie).toMatch(/; Path=\/v1; HttpOnly; SameSite=Strict$/);
    const overTls = await post('/v1/session', { key: world.keys.engineer }, { origin: 'https://localhost:80' });
    expect(String(overTls.headers['set-cookie'])).toContain('; Secure');
    const headers = { cookie: cookie.split(';')[0] ?? '' };
    expect((await world.app.inject({ url: '/v1/caller', headers })).json().name).toBe('engineer');
    const out = await world.app.inject({ method: 'DELETE', url: '/v1/session', headers: own });
    expect([out.statusCode, String(out.headers['set-cookie'])]).toEqual([204, expect.stringContaining('Max-Age=0')]);
  });

  it('changes something only from our own pages', async () => {
    const cookie = `warmbrick-session=${world.keys.admin}`;
    const make = (headers: Record<string, string>) =>
      post('/v1/keys', { name: 'forged', role: 'viewer' }, { cookie, host: 'brick.example', ...headers });
    for (const headers of [
      {},
      { 'sec-fetch-site': 'cross-site' },
      { 'sec-fetch-site': 'same-site' },
      { origin: 'https://evil.example' },
      { origin: 'null' },
      { 'sec-fetch-site': 'same-origin', origin: 'https://evil.example' },
    ]) {
      expect((await make(headers)).json().code, JSON.stringify(headers)).toBe('cross-site');
    }
    expect((await make(own)).statusCode).toBe(201);
    expect((await make({ origin: 'https://brick.example' })).statusCode).toBe(201);
    for (const headers of [{ 'sec-fetch-site': 'cross-site' }, { origin: 'https://evil.example' }]) {
      expect(
        (await post('/v1/session', { key: world.keys.admin }, { host: 'brick.example', ...headers })).statusCode,
      ).toBe(403);
    }
  });
});

describe('trying keys', () => {
  it('is slowed down', async () => {
    const from = { remoteAddress: '203.0.113.9' };
    const codes: string[] = [];
    for (let n = 0; n < 70; n++) {
      const headers = asKey(`wbk_${String(n).padStart(12, '0')}_${'A'.repeat(43)}`);
      codes.push((await world.app.inject({ url: '/v1/machines', headers, ...from })).json().code);
    }
    expect(codes.slice(0, 60).every((code) => code === 'key-invalid')).toBe(true);
    expect(codes.slice(60).every((code) => code === 'too-many-requests')).toBe(true);
    expect(await statusFor(world.keys.viewer ?? '')).toBe(200);
  });
});

describe('Idempotency-Key', () => {
  it('does a request once and answers it again, without the secret', async () => {
    const once = { ...admin(), 'idempotency-key': 'order-1' };
    const body = { name: 'once', role: 'viewer' };
    const first = await post('/v1/keys', body, once);
    const second = await post('/v1/keys', body, once);
    expect([first.statusCode, second.statusCode, second.headers['idempotency-replayed']]).toEqual([201, 201, 'true']);
    expect(second.json()).toEqual({ ...first.json(), key: null });
    expect((await post('/v1/keys', { ...body, role: 'analyst' }, once)).json().code).toBe('idempotency-key-reused');
    const other = await post(
      '/v1/keys',
      { ...body, fleets: ['north'] },
      { ...once, ...asKey(world.keys['north-admin']) },
    );
    expect([other.statusCode, other.headers['idempotency-replayed']]).toEqual([201, undefined]);
    const { items } = keyListSchema.parse((await world.app.inject({ url: '/v1/keys', headers: admin() })).json());
    expect(items.filter(({ name }) => name === 'once')).toHaveLength(2);
    expect((await post('/v1/keys', body, { ...admin(), 'idempotency-key': 'x'.repeat(256) })).statusCode).toBe(400);
  });

  it('lets one of several at the same time through', async () => {
    const headers = { ...admin(), 'idempotency-key': 'order-2' };
    const all = await Promise.all(
      [1, 2, 3, 4, 5].map(() => post('/v1/fleets', { fleetId: 'west', name: 'West' }, headers)),
    );
    const codes = all.map((answer) => answer.statusCode);
    expect(codes.every((code) => code === 201 || code === 409)).toBe(true);
    expect(
      all.filter((answer) => answer.headers['idempotency-replayed'] === undefined && answer.statusCode === 201),
    ).toHaveLength(1);
    expect(all.filter((answer) => answer.json().code === 'fleet-exists')).toEqual([]);
  });
});

describe('the audit log', () => {
  it('tells who changed what, also in vain, and never a secret', async () => {
    await post('/v1/fleets', { fleetId: 'east', name: 'East' });
    await post('/v1/fleets', { fleetId: 'east', name: 'East' });
    await post('/v1/fleets', { fleetId: 'far', name: 'Far' }, asKey(world.keys.viewer));
    const answer = await world.app.inject({ url: '/v1/audit?limit=5', headers: admin() });
    const told = answer
      .json()
      .items.map(({ actorName, action, detail }: Record<string, string>) => [actorName, action, detail]);
    expect(told.slice(0, 4)).toEqual([
      ['viewer', 'POST /v1/fleets', '{"refused":403}'],
      ['admin', 'POST /v1/fleets', '{"refused":409}'],
      ['admin', 'POST /v1/fleets', '{"fleetId":"east","name":"East"}'],
      ['admin', 'POST /v1/fleets', '{"fleetId":"east","name":"East"}'],
    ]);
    const check = await world.app.inject({ url: '/v1/audit/check', headers: admin() });
    expect(check.json()).toMatchObject({ brokenAt: null });
    for (const text of Object.values(world.keys)) expect(answer.body).not.toContain(text.slice(20));
  });

  it('refuses the change when the entry cannot be written', async () => {
    const whole = world.store.appendAudit;
    world.store.appendAudit = () => Promise.reject(Object.assign(new Error('no room'), { code: 'x' }));
    const answer = await post('/v1/fleets', { fleetId: 'unwritten', name: 'x' });
    world.store.appendAudit = whole;
    expect(answer.statusCode).toBe(500);
    expect((await world.store.listFleets()).some(({ fleetId }) => fleetId === 'unwritten')).toBe(false);
  });
});

describe('this computer itself', () => {
  it('needs no key while nobody holds one for everything; a proxy or another site is somebody else', async () => {
    const bare = await startApiWorld();
    for (const key of await bare.store.listKeys())
      if (key.role === 'admin' && key.fleets === 'all') await bare.store.revokeKey(key.keyId);
    const at = (headers: Record<string, string>, remoteAddress = '127.0.0.1') =>
      bare.app.inject({ url: '/v1/keys', headers, remoteAddress });
    expect((await at({})).statusCode).toBe(200);
    expect((await at({}, '203.0.113.9')).statusCode).toBe(401);
    expect((await at({ 'x-forwarded-for': '203.0.113.9' })).statusCode).toBe(401);
    const forged = await bare.app.inject({
      method: 'POST',
      url: '/v1/fleets',
      headers: { ...json, origin: 'https://evil.example' },
      payload: '{"fleetId":"a","name":"a"}',
    });
    expect(forged.json().code).toBe('cross-site');
    await bare.stop();
  });
});
