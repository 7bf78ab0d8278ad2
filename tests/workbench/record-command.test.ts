/** Recordings cut from the store: what was taken in comes out again, and a recorded case can be made this way. */

import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { builtInThresholds } from '@warmbrick/analysis';
import type { ReplayDocument } from '@warmbrick/contracts';
import { createIngest } from '@warmbrick/ingest';
import { readInOrder } from '@warmbrick/recordings';
import type { SampleBlock } from '@warmbrick/signals';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { readCaseFile } from '../golden/case-file.js';
import { differences } from '../golden/compare-findings.js';
import { replayCase } from '../golden/replay-case.js';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { run } from './run.js';

const caseFolder = fileURLToPath(new URL('../../replay-data/hot-stops/', import.meta.url));
const wanted = readCaseFile(`${caseFolder}case.yaml`);
let server: TestServer;
let folder: string;
const urlBefore = process.env.DATABASE_URL;
const quiet = { info() {}, warn() {}, error() {} };

beforeAll(async () => {
  server = await startTestServer();
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-record-'));
});
afterAll(async () => {
  await server.stop();
  rmSync(folder, { recursive: true, force: true });
});
beforeEach(async () => {
  process.env.DATABASE_URL = await server.freshDatabase();
  const store = await server.openOn(process.env.DATABASE_URL);
  const ingest = createIngest({ store, thresholds: builtInThresholds, logger: quiet });
  const blocks: SampleBlock[] = [];
  const sink = { block: (block: SampleBlock) => void blocks.push(block), restart: () => void blocks.splice(0) };
  await readInOrder(
    wanted.recordings.map((file) => `${caseFolder}${file}`),
    {},
    sink,
  );
  for (const [machineId, profile] of Object.entries(wanted.machines)) await ingest.register(machineId, profile);
  await ingest.accept(blocks, { isRecorded: true });
  await ingest.close();
});
afterEach(() => {
  if (urlBefore === undefined) delete process.env.DATABASE_URL;
  else process.env.DATABASE_URL = urlBefore;
});

const machines = Object.keys(wanted.machines);
const path = (name: string) => join(folder, name);
const replayed = async (file: string, profiles: string): Promise<ReplayDocument> =>
  JSON.parse((await run('replay', path(file), '--profile', path(profiles), '--json', '--quiet')).out);

describe('warmbrick record', () => {
  it.each(['csv', 'ndjson', 'parquet'])('makes the recorded case hot-stops anew as %s', async (format) => {
    const out = `cut.${format}`;
    const ran = await run('record', ...machines, '--out', path(out), '--profiles', path('profiles.json'), '--quiet');
    expect(ran).toMatchObject({ exitCode: 0, err: '' });
    const { document } = await replayCase(`${folder}/`, [out], wanted);
    expect(differences(wanted, document)).toEqual([]);
    const original = await replayCase(caseFolder, wanted.recordings, wanted);
    expect(document.machines.map(({ unusable: _, ...rest }) => rest)).toEqual(
      original.document.machines.map(({ unusable: _, ...rest }) => rest),
    );
    // The profiles that come along are the machines' own.
    expect((await replayed(out, 'profiles.json')).machines).toEqual(document.machines);
  });

  it('cuts a time out, and can be taken in again', async () => {
    const from = '2026-03-12T07:00:00Z';
    const times = async (): Promise<number[]> => {
      const found: number[] = [];
      await readInOrder(
        [path('hour.csv')],
        {},
        { block: ({ timeMs }) => void found.push(...timeMs), restart: () => {} },
      );
      return found;
    };
    const [first = ''] = machines;
    const whole = await run('record', first, '--out', path('hour.csv'), '--quiet');
    expect(whole.exitCode).toBe(0);
    const all = await times();
    const middle = new Date(all[Math.floor(all.length / 2)] as number).toISOString();
    await run('record', first, '--out', path('hour.csv'), '--from', middle, '--quiet');
    const half = await times();
    expect(half).toEqual(all.filter((timeMs) => timeMs >= Date.parse(middle)));
    expect(half.length).toBeGreaterThan(100);
    const none = await run('record', first, '--out', path('none.csv'), '--to', '2001-01-01T00:00:00Z', '--quiet');
    expect(none).toMatchObject({ exitCode: 1, err: expect.stringContaining('no samples of that time') });
    expect(from).toMatch(/Z$/);
  });

  it('masks who it was, and changes nothing that is found', async () => {
    const flags = ['--mask', '--shift-days', '-70', '--profiles', path('masked.json'), '--quiet'];
    await run('record', ...machines, '--out', path('masked.csv'), ...flags);
    await run('record', ...machines, '--out', path('plain.csv'), '--profiles', path('plain.json'), '--quiet');
    const text = readFileSync(path('masked.csv'), 'utf8') + readFileSync(path('masked.json'), 'utf8');
    for (const machineId of machines) expect(text).not.toContain(machineId);
    expect(text).not.toMatch(/Skarnfell|2026-03/);
    const masked = await replayed('masked.csv', 'masked.json');
    const plain = await replayed('plain.csv', 'plain.json');
    const told = ({ machines: all }: ReplayDocument) =>
      all.map(({ residency, score, findings }) => [
        residency,
        score,
        findings.map(({ kind, values }) => [kind, values]),
      ]);
    const order = (rows: unknown[]) => rows.map((row) => JSON.stringify(row)).sort();
    expect(order(told(masked))).toEqual(order(told(plain)));
  });

  it('says when there is no such machine', async () => {
    const ran = await run('record', 'ghost-1', '--out', path('ghost.csv'), '--quiet');
    expect(ran).toMatchObject({ exitCode: 2, err: expect.stringContaining('ghost-1') });
  });
});
