import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { brotliDecompressSync, gunzipSync } from 'node:zlib';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { seedMachine, workingRow } from './fleet.js';
import { startTestApp, type TestApp } from './test-app.js';

let t: TestApp;
let siteDir: string;
const page = '<!doctype html><title>Warmbrick</title><script type="module" src="/assets/index-AbCdEf12.js"></script>';
beforeEach(async () => {
  siteDir = await mkdtemp(join(tmpdir(), 'warmbrick-site-'));
  await mkdir(join(siteDir, 'assets'));
  await writeFile(join(siteDir, 'index.html'), page);
  await writeFile(join(siteDir, 'assets', 'index-AbCdEf12.js'), 'document.title = "Warmbrick";');
  t = await startTestApp({ siteDir });
  await seedMachine(t.store, { machineId: 'm1', fromMs: 0, toMs: 86_400_000, rows: [workingRow(0)] });
});
afterEach(async () => {
  await t.app.close();
  await rm(siteDir, { recursive: true });
});

const urls = ['/v1/machines', '/v1/machines/m1', '/v1/machines/m1/findings', '/v1/machines/m1/residency'];

describe('answers', () => {
  // Source: RFC 9110, 13.1.2 and 15.4.5.
  it('are tagged, and 304 without a body for who has them', async () => {
    for (const url of urls) {
      const first = await t.app.inject(url);
      expect(first.headers['content-type'], url).toMatch(/^application\/json/);
      const tag = String(first.headers.etag);
      expect(tag, url).toMatch(/^W\/"[\w-]+"$/);
      const again = await t.app.inject({ url, headers: { 'if-none-match': `"other", ${tag}` } });
      expect([again.statusCode, again.body, again.headers.etag], url).toEqual([304, '', tag]);
      expect((await t.app.inject({ url, headers: { 'if-none-match': '"other"' } })).statusCode).toBe(200);
      expect(first.headers['cache-control']).toBe('private, no-cache');
    }
  });

  // Source: RFC 9110, 9.3.2.
  it('HEAD is GET without the body', async () => {
    for (const url of [...urls, '/healthz', '/']) {
      const get = await t.app.inject(url);
      const head = await t.app.inject({ method: 'HEAD', url });
      expect([head.statusCode, head.body], url).toEqual([get.statusCode, '']);
      expect(head.headers['content-type'], url).toBe(get.headers['content-type']);
      expect(head.headers.etag, url).toBe(get.headers.etag);
    }
  });

  it('are compressed for who can read it', async () => {
    const plain = await t.app.inject('/v1/machines');
    const brotli = await t.app.inject({ url: '/v1/machines', headers: { 'accept-encoding': 'gzip, br' } });
    expect(brotli.headers['content-encoding']).toBe('br');
    expect(brotliDecompressSync(brotli.rawPayload).toString()).toBe(plain.body);
    expect(brotli.headers.vary).toMatch(/accept-encoding/i);
    const gzip = await t.app.inject({ url: '/v1/machines', headers: { 'accept-encoding': 'gzip' } });
    expect(gunzipSync(gzip.rawPayload).toString()).toBe(plain.body);
  });

  it('carry security headers, errors and pages too', async () => {
    for (const url of ['/v1/machines', '/v1/nothing', '/', '/machines/m1']) {
      const { headers } = await t.app.inject(url);
      expect(headers['content-security-policy'], url).toMatch(
        /^default-src 'none'; ?script-src 'self'; ?style-src 'self'/,
      );
      expect(headers['content-security-policy'], url).not.toContain('unsafe');
      expect(headers['x-content-type-options'], url).toBe('nosniff');
      expect(headers['x-frame-options'], url).toBe('DENY');
    }
  });
});

describe('the console', () => {
  it('is served at / and at every page path, never in place of the API', async () => {
    for (const url of ['/', '/machines/m1', '/machines/m1?tab=samples', '/v1x']) {
      const answer = await t.app.inject(url);
      expect([answer.statusCode, answer.body], url).toEqual([200, page]);
      expect(answer.headers['content-type']).toMatch(/^text\/html/);
      expect(answer.headers['cache-control']).toBe('no-cache');
    }
    for (const url of ['/v1/nothing', '/v1', '/assets/missing.js', '/../package.json', '/%2e%2e/package.json']) {
      expect((await t.app.inject(url)).statusCode, url).toBe(404);
    }
    expect((await t.app.inject({ method: 'POST', url: '/machines/m1' })).statusCode).toBe(404);
  });

  it('its hashed files may be kept for ever', async () => {
    const asset = await t.app.inject('/assets/index-AbCdEf12.js');
    expect(asset.statusCode).toBe(200);
    expect(asset.headers['cache-control']).toContain('immutable');
    expect(asset.headers['content-type']).toMatch(/^(text|application)\/javascript/);
  });

  it('without a built console only the API is there', async () => {
    const bare = await startTestApp({ siteDir: join(siteDir, 'nowhere') });
    expect((await bare.app.inject('/')).statusCode).toBe(404);
    expect((await bare.app.inject('/v1/machines')).statusCode).toBe(200);
    await bare.app.close();
  });
});

describe('health', () => {
  it('/healthz stays well when the database is away, /readyz does not', async () => {
    expect((await t.app.inject('/readyz')).json()).toEqual({ status: 'ok' });
    t.store.isDown = true;
    expect((await t.app.inject('/healthz')).statusCode).toBe(200);
    expect((await t.app.inject('/readyz')).statusCode).toBe(503);
  });
});

describe('/openapi.json', () => {
  interface Description {
    openapi: string;
    paths: Record<string, Record<string, { summary?: string; responses: Record<string, { content?: object }> }>>;
    components: { schemas: Record<string, object> };
  }

  // Source: OpenAPI Specification 3.1.0, 4.8.1, 4.8.8, 4.8.10.
  it('describes every route with its query, its answer and its problems, all references resolving', async () => {
    const text = (await t.app.inject('/openapi.json')).body;
    const api = JSON.parse(text) as Description;
    expect(api.openapi).toMatch(/^3\.1\./);
    for (const [path, operations] of Object.entries(api.paths)) {
      for (const [method, { summary, responses }] of Object.entries(operations)) {
        expect(summary, `${method} ${path}`).toBeDefined();
        const good = Object.entries(responses).filter(([status]) => status.startsWith('2'));
        expect(good.length, `${method} ${path}`).toBeGreaterThan(0);
        for (const [status, { content }] of good)
          if (status !== '204') expect(content, `${method} ${path}`).toBeDefined();
      }
    }
    const problem = api.paths['/v1/machines/{machineId}']?.get?.responses['404']?.content;
    expect(Object.keys(problem ?? {})).toEqual(['application/problem+json']);
    const references = [...text.matchAll(/"\$ref":"#\/components\/schemas\/([^"]+)"/g)].map(([, name]) => name ?? '');
    expect(references.length).toBeGreaterThan(5);
    for (const name of references) expect(api.components.schemas, name).toHaveProperty(name);
  });
});
