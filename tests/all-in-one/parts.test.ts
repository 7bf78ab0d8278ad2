import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { explainAllInOneConfig, loadReplays, readConfig, runLiveFleet } from '@warmbrick/all-in-one';
import type { Ingest } from '@warmbrick/ingest';
import { OperatingError } from '@warmbrick/runtime';
import { quarryFleet, type SimulatedMachine } from '@warmbrick/simulator';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { createMemoryStore } from '../alerts-api/memory-store.js';
import { contentsOf, testIngest } from '../ingest/drive.js';
import { temporaryFolder } from './child.js';

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
beforeEach(async () => {
  folder = await temporaryFolder();
});
afterEach(() => folder.remove());

describe('settings', () => {
  it('have defaults, and take PORT, DATABASE_URL and WARMBRICK_*', () => {
    for (const setting of explainAllInOneConfig({})) expect(setting.meaning, setting.name).not.toBe('');
    const plain = readConfig({ HOME: '/home/somebody' });
    expect(plain).toMatchObject({ port: 8080, host: '127.0.0.1', live: true });
    expect(plain.replayData).toMatch(/replay-data$/);
    expect(readConfig({ PORT: '9000', WARMBRICK_LIVE: 'off', WARMBRICK_DATA_DIR: '/data/w' })).toMatchObject({
      port: 9000,
      live: false,
      dataDir: '/data/w',
    });
  });

  it('take an identity provider only with the audience that its tokens are for', () => {
    expect(() => readConfig({ WARMBRICK_OIDC_ISSUER: 'https://login.example' })).toThrow(OperatingError);
    const both = { WARMBRICK_OIDC_ISSUER: 'https://login.example', WARMBRICK_OIDC_AUDIENCE: 'warmbrick' };
    expect(readConfig(both)).toMatchObject({ oidcAudience: 'warmbrick', oidcRoleClaim: 'roles' });
  });
});

/** A case of two machines, three hours at one sample every ten seconds. */
async function writeCase(name: string): Promise<void> {
  const path = join(folder.path, name);
  await mkdir(path);
  const header = 'time,machineId,engineSpeedRpm,engineLoadPct,scrInletTempC';
  const lines = Array.from({ length: 1080 }, (_, i) => {
    const time = new Date(Date.UTC(2026, 2, 10, 6) + i * 10_000).toISOString();
    return [`${time},${name}-a,950,12,240`, `${time},${name}-b,1800,70,390`].join('\n');
  });
  await writeFile(join(path, 'recording.csv'), `${header}\n${lines.join('\n')}\n`);
  await writeFile(
    join(path, 'case.yaml'),
    `title: test\nrecordings: [recording.csv]\nmachines:\n  ${name}-a: { name: Loader, timeZone: Europe/Oslo }\n`,
  );
}

describe('recorded cases', () => {
  const never = new AbortController().signal;

  it('are loaded once, with their profiles', async () => {
    await writeCase('first');
    await writeCase('second');
    const store = createMemoryStore();
    const load = { store, ingest: testIngest(store), folder: folder.path, signal: never, onSkipped: () => {} };
    expect(await loadReplays(load)).toEqual({ cases: 2, known: 0, samples: 4 * 1080 });
    expect((await store.getMachine('first-a'))?.profile).toMatchObject({ name: 'Loader', timeZone: 'Europe/Oslo' });
    expect((await contentsOf(store, 'first-a')).findings.map(({ kind }) => kind)).toContain('idle-streak');
    const commits = store.commits;
    expect(await loadReplays(load)).toEqual({ cases: 2, known: 2, samples: 0 });
    expect(store.commits).toBe(commits);
  });

  it('go on where they were interrupted', async () => {
    await writeCase('first');
    const whole = createMemoryStore();
    const onSkipped = () => {};
    await loadReplays({ store: whole, ingest: testIngest(whole), folder: folder.path, signal: never, onSkipped });

    const store = createMemoryStore();
    const stopping = new AbortController();
    const counted: number[] = [];
    const ingest = testIngest(store, {
      onChange: () => {
        counted.push(1);
        stopping.abort();
      },
    });
    await loadReplays({ store, ingest, folder: folder.path, signal: stopping.signal, onSkipped });
    expect(counted).toHaveLength(1);
    const resumed = await loadReplays({ store, ingest, folder: folder.path, signal: never, onSkipped });
    expect(resumed.samples).toBe(4 * 360);
    expect(await contentsOf(store, 'first-a')).toEqual(await contentsOf(whole, 'first-a'));
  });

  it('that cannot be used are named and skipped; folders that are none are ignored', async () => {
    await writeCase('good');
    await mkdir(join(folder.path, 'notes'));
    await mkdir(join(folder.path, 'broken'));
    await writeFile(join(folder.path, 'broken', 'case.yaml'), 'recordings: [');
    await mkdir(join(folder.path, 'escaping'));
    await writeFile(join(folder.path, 'escaping', 'case.json'), '{"recordings":["../good/recording.csv"]}');
    await mkdir(join(folder.path, 'hollow'));
    await writeFile(join(folder.path, 'hollow', 'case.json'), '{"recordings":["absent.csv"]}');
    const store = createMemoryStore();
    const skipped: string[] = [];
    const onSkipped = (error: OperatingError) => skipped.push(error.toUserMessage());
    const outcome = await loadReplays({
      store,
      ingest: testIngest(store),
      folder: folder.path,
      signal: never,
      onSkipped,
    });
    expect(outcome).toEqual({ cases: 1, known: 0, samples: 2 * 1080 });
    expect(skipped).toHaveLength(3);
    for (const name of ['broken', 'escaping', 'hollow']) expect(skipped.some((text) => text.includes(name))).toBe(true);
  });

  it('a folder that is not there has none', async () => {
    const store = createMemoryStore();
    const load = { store, ingest: testIngest(store), signal: never, onSkipped: () => {} };
    expect(await loadReplays({ ...load, folder: join(folder.path, 'absent') })).toEqual({
      cases: 0,
      known: 0,
      samples: 0,
    });
  });
});

describe('the live fleet', () => {
  /** A machine at work around the clock that sends once a minute. */
  const machine: SimulatedMachine = { ...(quarryFleet[0] as SimulatedMachine), gateway: { samplePeriodS: 60 } };
  const dawnMs = Date.UTC(2026, 2, 11, 6);

  async function run(store: ReturnType<typeof createMemoryStore>, fromMs: number, ticks: number): Promise<void> {
    let nowMs = fromMs;
    const stopping = new AbortController();
    const ingest: Ingest = testIngest(store, { now: () => nowMs });
    let left = ticks;
    const clocked: Ingest = {
      ...ingest,
      accept: async (blocks, options) => {
        await ingest.accept(blocks, options);
        if (nowMs === fromMs && (options?.cursor?.nextOffset ?? 0) < fromMs) return;
        nowMs += 60_000;
        if (--left <= 0) stopping.abort();
      },
    };
    await runLiveFleet({ store, ingest: clocked, machines: [machine], signal: stopping.signal, now: () => nowMs });
  }

  it('first lives the last 36 hours, then goes on with the clock', async () => {
    const store = createMemoryStore();
    await run(store, dawnMs, 5);
    const { summary, rows } = await contentsOf(store, machine.machineId);
    expect(summary?.observed.fromMs).toBeLessThan(dawnMs - 35 * 3_600_000);
    expect(summary?.observed.toMs).toBeGreaterThan(dawnMs);
    expect(rows.length).toBeGreaterThan(90);
    expect((await store.getMachine(machine.machineId))?.profile.site).toBe('Skarnfell quarry');
  });

  it('goes on where it stopped: nothing twice, counters never back', async () => {
    const store = createMemoryStore();
    await run(store, dawnMs, 5);
    await run(store, dawnMs + 3_600_000, 5);
    const blocks = await store.readSamples({ machineId: machine.machineId, fromMs: 0, toMs: dawnMs * 2 });
    const hours = blocks.flatMap((block) => Array.from(block.channels.engineHours ?? []));
    expect(hours.length).toBeGreaterThan(1000);
    for (let i = 1; i < hours.length; i++) expect(hours[i]).toBeGreaterThanOrEqual(hours[i - 1] ?? 0);
  });

  it('after a long rest it starts 36 hours back at most', async () => {
    const store = createMemoryStore();
    await run(store, dawnMs, 2);
    const before = (await store.getMachine(machine.machineId))?.lastSampleMs ?? 0;
    const laterMs = dawnMs + 10 * 86_400_000;
    await run(store, laterMs, 2);
    const samples = await store.readSamples({ machineId: machine.machineId, fromMs: before + 1, toMs: laterMs * 2 });
    expect(samples[0]?.timeMs[0]).toBeGreaterThan(laterMs - 36 * 3_600_000 - 1);
  });
});
