/** From a file to a promoted set, over the API as a user has it: keys, a second pair of eyes, the audit log, the way back. */

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { makeKey } from '../../services/alerts-api/src/access/key-text.js';
import { type ApiWorld, startApiWorld } from '../alerts-api/api-world.js';
import { run } from './run.js';

const recording = fileURLToPath(new URL('../../replay-data/long-idles/recording.ndjson.gz', import.meta.url));
let world: ApiWorld;
let url: string;
let folder: string;
beforeAll(async () => {
  world = await startApiWorld();
  url = await world.app.listen({ port: 0, host: '127.0.0.1' });
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-promote-'));
  const { keyId, text, secret } = makeKey();
  await world.store.addKey(
    { keyId, name: 'bo', role: 'engineer', fleets: 'all', createdBy: 'test', expiresMs: null },
    secret,
  );
  others.bo = text;
});
const others: Record<string, string> = {};
afterEach(() => {
  delete process.env.WARMBRICK_API_KEY;
});
afterAll(async () => {
  await world.stop();
  rmSync(folder, { recursive: true, force: true });
});

const as = (name: string, ...args: string[]) => {
  process.env.WARMBRICK_API_KEY = others[name] ?? world.keys[name] ?? '';
  return run(...args, '--url', url);
};
function file(name: string, content: unknown): string {
  const path = join(folder, name);
  writeFileSync(path, typeof content === 'string' ? content : JSON.stringify(content));
  return path;
}

describe('warmbrick promote and sets', () => {
  it('keeps a set with its trial, promotes it, lists it, and takes it back', async () => {
    const set = file('shorter.json', { version: 'shorter-1', values: { idleLimitS: 1800 } });
    const compared = await run('compare', 'built-in', set, recording, '--json', '--quiet');
    const trial = file('trial.json', compared.out);
    const done = await as(
      'engineer',
      'promote',
      set,
      '--reason',
      'fewer surprises',
      '--for',
      'class=excavator',
      '--trial',
      trial,
    );
    expect(done.err).toBe('');
    expect(done).toMatchObject({ exitCode: 0 });
    expect(done.out).toMatch(
      /^1: shorter-1 for class excavator from .*, past left as it was; engineer: fewer surprises/,
    );
    const kept = await world.store.getThresholdSet('shorter-1');
    expect(kept?.set.values.idleLimitS).toBe(1800);
    const { document = '' } = (await world.store.getTrial(kept?.trialId ?? '')) ?? {};
    expect(JSON.parse(document)).toEqual(JSON.parse(compared.out));

    const past = await as(
      'engineer',
      'promote',
      'shorter-1',
      '--reason',
      'the past too',
      '--from',
      '2026-01-01T00:00:00Z',
      '--recompute',
    );
    expect(past.out).toContain('past computed anew (0 machines so far)');
    const back = await as('engineer', 'promote', '2', '--rollback', '--recompute', '--reason', 'too many');
    expect(back.out).toMatch(/^3: no set of its own for all machines from 2026-01-01T00:00:00.000Z/);

    const listed = await as('viewer', 'sets');
    expect(listed.out).toMatch(/shorter-1 +\d{4}-\d\d-\d\d +engineer +- +fewer surprises/);
    expect(listed.out).toContain('built-in-1');
    expect(listed.out).toContain('3: no set of its own');
    const audit = await world.store.listAudit({ limit: 50 });
    const actions = audit.items.map(({ actorName, action }) => `${actorName} ${action}`).join('\n');
    expect(actions).toMatch(/engineer .*set-promotions/);
    expect(actions).toMatch(/engineer .*threshold-sets/);
  });

  it('waits for somebody else when a second pair of eyes is wanted', async () => {
    const set = file('careful.json', { version: 'careful-1', values: { coldLimitS: 5400 } });
    const kept = await as('engineer', 'promote', set, '--reason', 'less noise', '--second-eyes');
    expect(kept.out).toContain('waits for somebody else to approve it');
    const early = await as('engineer', 'promote', 'careful-1', '--reason', 'now');
    expect(early).toMatchObject({
      exitCode: 2,
      err: expect.stringContaining('waits for somebody else than its author'),
    });
    const own = await as('engineer', 'promote', 'careful-1', '--approve', '--reason', 'now');
    expect(own.err).toContain('somebody else has to look at it');
    const other = await as('bo', 'promote', 'careful-1', '--approve', '--reason', 'looks good');
    expect(other).toMatchObject({ exitCode: 0, out: expect.stringContaining('careful-1 for all machines') });
  });

  it('refuses what may not be', async () => {
    const set = file('wrong.json', { version: 'wrong-1', values: { defLowClearPct: 5 } });
    expect((await as('engineer', 'promote', set, '--reason', 'oops')).err).toContain('it would clear where it raises');
    expect((await as('viewer', 'promote', 'shorter-1', '--reason', 'mine')).exitCode).toBe(2);
    const near = await as('engineer', 'promote', 'shorter-1', '--reason', 'at once', '--from', '2026-01-01T00:00:00Z');
    expect(near.err).toContain('begins at least two minutes from now');
    expect((await as('engineer', 'promote', 'unheard-1', '--reason', 'what')).err).toContain(
      'no threshold set "unheard-1"',
    );
    const changed = file('again.json', { version: 'shorter-1', values: { idleLimitS: 900 } });
    expect((await as('engineer', 'promote', changed, '--reason', 'again')).err).toContain('sets never change');
    const narrow = await as('north-engineer', 'promote', 'shorter-1', '--reason', 'ours', '--for', 'machine=south-1');
    expect(narrow).toMatchObject({ exitCode: 2, err: expect.stringContaining('whole installation') });
    const ours = await as('north-engineer', 'promote', 'shorter-1', '--reason', 'ours', '--for', 'fleet=north');
    expect(ours.exitCode).toBe(0);
    const seen = await as('south-viewer', 'sets');
    expect(seen.out).not.toContain('fleet north');
  });

  it('lists thresholds without asking anybody, and says when nobody answers', async () => {
    const known = await run('sets', '--known');
    expect(known.out).toMatch(/idleLimitS +common practice.* +3600 +60 +86400 +s/);
    const silent = await run('sets', '--url', 'http://127.0.0.1:9');
    expect(silent).toMatchObject({ exitCode: 3, err: expect.stringContaining('does not answer') });
  });
});
