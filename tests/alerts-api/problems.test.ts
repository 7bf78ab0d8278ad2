import { request } from 'node:http';
import { type AddressInfo, connect } from 'node:net';
import { problemSchema } from '@warmbrick/contracts';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { seedMachine } from './fleet.js';
import { startTestApp, type TestApp } from './test-app.js';

let t: TestApp;
beforeEach(async () => {
  t = await startTestApp({ limits: { requestsPerMinute: 20 } });
});
afterEach(() => t.app.close());

/** Every problem must be one by RFC 9457: its media type (section 3), and a status that equals the answer's (3.1.2). */
async function problemOf(method: 'GET' | 'POST' | 'DELETE', url: string, more: object = {}) {
  const answer = await t.app.inject({ method, url, ...more });
  expect(answer.headers['content-type']).toMatch(/^application\/problem\+json/);
  const problem = problemSchema.parse(answer.json());
  expect(problem.status).toBe(answer.statusCode);
  expect(answer.body).not.toMatch(/node_modules|\bat .+:\d+:\d+/);
  return { answer, problem };
}

describe('problems', () => {
  it('an unknown address is 404, under /v1 and elsewhere', async () => {
    for (const url of ['/v1/nothing', '/nothing', '/v2/machines']) {
      const { problem } = await problemOf('GET', url);
      expect(problem).toMatchObject({ status: 404, code: 'not-found', instance: url });
    }
  });

  it('an unknown machine is 404 with its own code, on every route of a machine', async () => {
    for (const tail of ['', '/findings', '/residency', '/samples']) {
      const { problem } = await problemOf('GET', `/v1/machines/nobody${tail}`);
      expect(problem.code).toBe('machine-not-found');
    }
  });

  it('names every wrong parameter at once', async () => {
    const { problem } = await problemOf('GET', '/v1/machines?limit=0&sort=colour&colour=red');
    expect(problem.code).toBe('invalid-request');
    expect(problem.errors?.map(({ path }) => path).sort()).toEqual(['query.colour', 'query.limit', 'query.sort']);
    for (const { message } of problem.errors ?? []) expect(message.length).toBeGreaterThan(5);
  });

  it('refuses empty and overlong ranges, unknown kinds and channels', async () => {
    await seedMachine(t.store, { machineId: 'm1', fromMs: 0, toMs: 86_400_000 });
    const from = '2025-01-01T00:00:00Z';
    const urls = [
      `/v1/machines/m1/residency?from=${from}&to=${from}`,
      `/v1/machines/m1/samples?from=${from}&to=2025-03-05T00:00:00Z`,
      `/v1/machines/m1/findings?kind=idle-streak,idle-streek`,
      `/v1/machines/m1/samples?channels=engineSpeedRpm,colour`,
      `/v1/machines/m1/samples?from=yesterday`,
      `/v1/machines?cursor=@@`,
    ];
    for (const url of urls) expect((await problemOf('GET', url)).problem.status, url).toBe(400);
  });

  // Source: RFC 9110, 15.5.6: a 405 must name the allowed methods.
  it('a wrong method is 405 with Allow', async () => {
    const { answer, problem } = await problemOf('DELETE', '/v1/machines/m1/findings');
    expect(problem.code).toBe('method-not-allowed');
    expect(answer.headers.allow).toBe('GET, HEAD');
    expect((await problemOf('POST', '/v1/stream', { payload: { a: 1 } })).problem.status).toBe(405);
  });

  it('bodies: too large is 413, of a foreign kind 415, not JSON 400', async () => {
    t.app.post('/v1/echo', async (request) => request.body);
    const json = { 'content-type': 'application/json' };
    const large = await problemOf('POST', '/v1/echo', { headers: json, payload: JSON.stringify('x'.repeat(70_000)) });
    expect(large.problem).toMatchObject({ status: 413, code: 'body-too-large' });
    const foreign = await problemOf('POST', '/v1/echo', { headers: { 'content-type': 'text/csv' }, payload: 'a,b' });
    expect(foreign.problem).toMatchObject({ status: 415, code: 'unsupported-media-type' });
    const broken = await problemOf('POST', '/v1/echo', { headers: json, payload: '{"a":' });
    expect(broken.problem.status).toBe(400);
  });

  it('an address that cannot be decoded or is too long is a problem too', async () => {
    expect((await problemOf('GET', '/v1/machines/%zz')).problem.status).toBe(400);
    expect((await problemOf('GET', `/v1/machines/${'x'.repeat(500)}`)).problem.status).toBeGreaterThanOrEqual(400);
  });

  it('a database that does not answer is 503 with Retry-After, and says nothing of where it is', async () => {
    t.store.isDown = true;
    const { answer, problem } = await problemOf('GET', '/v1/machines/m1');
    expect(problem).toMatchObject({ status: 503, code: 'store-unavailable' });
    expect(answer.headers['retry-after']).toBeDefined();
    expect(answer.body).not.toContain('10.1.2.3');
  });

  it('a bug is 500, logged, and tells nothing', async () => {
    t.store.getMachine = async () => {
      throw new TypeError('secret of the house');
    };
    const { answer, problem } = await problemOf('GET', '/v1/machines/m1');
    expect(problem).toMatchObject({ status: 500, code: 'internal-error' });
    expect(answer.body).not.toContain('secret');
    expect(t.errors).toHaveLength(1);
  });

  // Source: RFC 6585, 4.
  it('too many requests of one address are 429', async () => {
    for (let i = 0; i < 20; i++) expect((await t.app.inject('/healthz')).statusCode).toBe(200);
    expect((await problemOf('GET', '/healthz')).problem).toMatchObject({ status: 429, code: 'too-many-requests' });
    expect((await t.app.inject({ url: '/healthz', remoteAddress: '127.0.0.9' })).statusCode).toBe(200);
  });

  it('what is not HTTP gets a problem and a closed connection', async () => {
    await t.app.listen({ port: 0, host: '127.0.0.1' });
    const { port } = t.app.server.address() as AddressInfo;
    const text = await new Promise<string>((resolve, reject) => {
      let received = '';
      const socket = connect(port, '127.0.0.1', () => socket.write('hello there\r\n\r\n'));
      socket.on('data', (chunk) => {
        received += chunk;
      });
      socket.on('end', () => resolve(received));
      socket.on('error', reject);
    });
    expect(text).toMatch(/^HTTP\/1\.1 400 /);
    expect(problemSchema.parse(JSON.parse(text.slice(text.indexOf('\r\n\r\n')))).code).toBe('invalid-request');
  });

  it('serves only its own host names when told to', async () => {
    const named = await startTestApp({ hostNames: ['127.0.0.1', 'localhost'] });
    await named.app.listen({ port: 0, host: '127.0.0.1' });
    const { port } = named.app.server.address() as AddressInfo;
    const statusFor = (host: string) =>
      new Promise<number | undefined>((resolve, reject) => {
        const sent = request({ port, host: '127.0.0.1', path: '/healthz', headers: { host } }, (answer) => {
          answer.resume();
          resolve(answer.statusCode);
        });
        sent.on('error', reject).end();
      });
    expect(await statusFor(`localhost:${port}`)).toBe(200);
    expect(await statusFor('rebound.example')).toBe(421);
    await named.app.close();
  });
});
