import { destinationListSchema, destinationWithSecretSchema, problemSchema } from '@warmbrick/contracts';
import type { Store } from '@warmbrick/store';
import { Webhook } from 'standardwebhooks';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { startTestApp, type TestApp } from './test-app.js';

let server: TestServer;
let store: Store;
let app: TestApp['app'];

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  store = await server.openOn(await server.freshDatabase());
  ({ app } = await startTestApp({ store }));
  return () => app.close();
});

const hook = { kind: 'webhook', name: 'Dispatch', address: 'https://hooks.example/warm' };
const send = async (method: 'GET' | 'POST' | 'PUT' | 'DELETE', url: string, body?: object) => {
  const response = await app.inject({ method, url: `/v1${url}`, ...(body === undefined ? {} : { payload: body }) });
  return { status: response.statusCode, body: response.body === '' ? null : response.json() };
};

describe('destinations', () => {
  it('are made with a secret that is shown once and signs', async () => {
    const made = await send('POST', '/destinations', hook);
    expect(made.status).toBe(201);
    const { id, secret } = destinationWithSecretSchema.parse(made.body);
    expect(() => new Webhook(secret ?? '').sign('msg_1', new Date(), '{}')).not.toThrow();
    const { body } = await send('GET', '/destinations');
    const { items } = destinationListSchema.parse(body);
    expect(items).toMatchObject([{ id, kind: 'webhook', leastSeverity: 'warning', liveSecrets: 1, isEnabled: true }]);
    expect(JSON.stringify(body)).not.toContain(secret);
  });

  it('keep their secrets when replaced, and have two while one is changed for another', async () => {
    const { id, secret } = (await send('POST', '/destinations', hook)).body;
    const replaced = await send('PUT', `/destinations/${id}`, {
      ...hook,
      name: 'Night shift',
      leastSeverity: 'severe',
    });
    expect(replaced).toMatchObject({ status: 200, body: { name: 'Night shift', liveSecrets: 1 } });
    const rotated = await send('POST', `/destinations/${id}/rotate-secret`);
    expect(rotated.body).toMatchObject({ liveSecrets: 2 });
    expect((await store.listDestinations())[0]?.secrets).toEqual([rotated.body.secret, secret]);
    const again = await send('POST', `/destinations/${id}/rotate-secret`);
    expect((await store.listDestinations())[0]?.secrets).toEqual([again.body.secret, rotated.body.secret]);
  });

  it('can be deleted', async () => {
    const { id } = (await send('POST', '/destinations', hook)).body;
    expect((await send('DELETE', `/destinations/${id}`)).status).toBe(204);
    const gone = await send('DELETE', `/destinations/${id}`);
    expect(gone.status).toBe(404);
    expect(problemSchema.parse(gone.body).code).toBe('destination-not-found');
    expect((await send('PUT', `/destinations/${id}`, hook)).status).toBe(404);
  });

  it.each([
    ['a webhook of another protocol', { ...hook, address: 'file:///etc/hostname' }, 'https://'],
    ['a mail to nobody', { kind: 'mail', name: 'Lead', address: 'lead' }, 'mail addresses'],
    [
      'a mail with a line break',
      { kind: 'mail', name: 'Lead', address: 'a@b.example\r\nBcc: c@d.example' },
      'mail addresses',
    ],
    ['a topic with wildcards', { kind: 'mqtt', name: 'Yard', address: 'alerts/#' }, 'wildcards'],
    ['an unknown zone', { ...hook, quiet: { timeZone: 'Mars/North', from: '22:00', to: '06:00' } }, 'IANA'],
    ['a field that is not known', { ...hook, colour: 'red' }, 'colour'],
  ])('are refused for %s', async (_, body, words) => {
    const answer = await send('POST', '/destinations', body);
    expect(answer.status).toBe(400);
    expect(JSON.stringify(answer.body)).toContain(words);
  });

  it('sign only where there is something to sign', async () => {
    const made = await send('POST', '/destinations', { kind: 'mail', name: 'Lead', address: 'lead@site.example' });
    expect(made.body).toMatchObject({ secret: null, liveSecrets: 0 });
    expect((await send('POST', `/destinations/${made.body.id}/rotate-secret`)).status).toBe(400);
  });
});

describe('deliveries', () => {
  it('are listed with their logs and sent again', async () => {
    const { id: destinationId } = (await send('POST', '/destinations', hook)).body;
    await store.fanOut(
      [],
      [
        {
          ...{ id: 'msg_1', destinationId, machineId: 'm', threadId: 't', subject: 's', body: 'b', text: 't' },
          availableMs: 0,
          onlyIfHeard: false,
        },
      ],
    );
    const attempt = { atMs: 1000, result: 'failed', status: '500', detail: 'broken', tookMs: 12 } as const;
    await store.recordAttempts([{ deliveryId: 'msg_1', attempt, state: 'dead', availableMs: 0 }]);
    const list = await send('GET', `/deliveries?state=dead&destinationId=${destinationId}`);
    expect(list.body).toMatchObject({
      items: [{ id: 'msg_1', state: 'dead', episodeId: 't', dueAt: null }],
      nextCursor: null,
    });
    expect((await send('GET', '/deliveries/msg_1/attempts')).body.items).toEqual([
      { at: '1970-01-01T00:00:01.000Z', result: 'failed', status: '500', detail: 'broken', tookMs: 12 },
    ]);
    expect((await send('POST', '/deliveries/msg_1/resend')).status).toBe(202);
    expect((await send('GET', '/deliveries?state=waiting')).body.items).toHaveLength(1);
    for (const path of ['attempts', 'resend']) {
      const answer = await send(path === 'resend' ? 'POST' : 'GET', `/deliveries/none/${path}`);
      expect(answer.body).toMatchObject({ status: 404, code: 'delivery-not-found' });
    }
  });
});
