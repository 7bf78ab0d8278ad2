import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { type Child, freePort, startChild, temporaryFolder, untilPrinted } from './child.js';

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
const children: Child[] = [];

beforeEach(async () => {
  folder = await temporaryFolder();
});
afterEach(async () => {
  for (const child of children.splice(0)) {
    child.process.kill('SIGTERM');
    await child.ended;
  }
  await folder.remove();
});

async function start(env: Record<string, string> = {}): Promise<{ child: Child; at: (path: string) => string }> {
  const port = await freePort();
  const quiet = { WARMBRICK_LIVE: 'off', WARMBRICK_REPLAY_DATA: folder.path, WARMBRICK_LOG_LEVEL: 'trace' };
  const child = startChild({ PORT: String(port), WARMBRICK_DATA_DIR: `${folder.path}/data`, ...quiet, ...env });
  children.push(child);
  return { child, at: (path) => `http://127.0.0.1:${port}${path}` };
}

async function stop(child: Child): Promise<void> {
  child.process.kill('SIGTERM');
  await child.ended;
}

describe('who gets in', { timeout: 240_000 }, () => {
  it('on this computer everybody; elsewhere the one whose key is printed at the first start, until nobody holds one', async () => {
    const local = await start();
    await untilPrinted(local.child, /http:\/\/127/);
    expect((await fetch(local.at('/v1/keys'))).status).toBe(200);
    expect(local.child.out()).not.toContain('wbk_');
    await stop(local.child);

    const open = await start({ WARMBRICK_HOST: '0.0.0.0' });
    await untilPrinted(open.child, /http:\/\/0\.0\.0\.0/);
    const key = /wbk_\w+-?[\w-]+/.exec(open.child.out())?.[0] ?? '';
    const asKey = { headers: { authorization: `Bearer ${key}` } };
    expect((await fetch(open.at('/v1/machines'))).status).toBe(401);
    expect((await fetch(open.at('/v1/machines'), asKey)).status).toBe(200);
    const made = await fetch(open.at('/v1/keys'), {
      method: 'POST',
      headers: { ...asKey.headers, 'content-type': 'application/json' },
      body: JSON.stringify({ name: 'gate', role: 'viewer' }),
    });
    const viewer = (await made.json()) as { key: string; keyId: string };
    expect((await fetch(open.at('/v1/keys'), { headers: { authorization: `Bearer ${viewer.key}` } })).status).toBe(403);
    const keyId = /wbk_([0-9a-f]+)_/.exec(key)?.[1] ?? '';
    const last = await fetch(open.at(`/v1/keys/${keyId}`), { method: 'DELETE', ...asKey });
    expect([last.status, ((await last.json()) as { code: string }).code]).toEqual([409, 'last-admin-key']);
    await stop(open.child);
    for (const secret of [key.slice(20), viewer.key.slice(20)]) expect(open.child.err()).not.toContain(secret);

    // On this computer only, the last key may go.
    const again = await start();
    await untilPrinted(again.child, /http:\/\/127/);
    expect((await fetch(again.at('/v1/machines'))).status).toBe(401);
    expect((await fetch(again.at(`/v1/keys/${keyId}`), { method: 'DELETE', ...asKey })).status).toBe(200);
    await stop(again.child);

    const refused = await start({ WARMBRICK_HOST: '0.0.0.0' });
    expect(await refused.child.ended).toBe(2);
    expect(refused.child.err()).toMatch(/nobody holds a key.*WARMBRICK_PRINT_ADMIN_KEY/s);

    const saved = await start({ WARMBRICK_HOST: '0.0.0.0', WARMBRICK_PRINT_ADMIN_KEY: 'true' });
    await untilPrinted(saved.child, /wbk_[0-9a-f]{12}_[\w-]{43}/);
    await stop(saved.child);
  });
});
