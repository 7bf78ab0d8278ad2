import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from './run.js';

let folder: string;
const path = (name: string) => join(folder, name);
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-calibrate-'));
  const files = ['--out', path('fleet.parquet'), '--truth', path('truth.ndjson'), '--profiles', path('profiles.json')];
  const plan = ['--machines', '8', '--days', '3', '--seed', '4', '--to', 'parquet', '--quiet'];
  expect((await run('simulate', ...plan, ...files)).exitCode).toBe(0);
}, 240_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const calibrate = (...more: string[]) =>
  run(
    'calibrate',
    path('fleet.parquet'),
    '--profile',
    path('profiles.json'),
    '--truth',
    path('truth.ndjson'),
    '--quiet',
    ...more,
  );

describe('warmbrick calibrate', () => {
  it('fits on some machines and judges on others', async () => {
    const { exitCode, out, err } = await calibrate(
      '--outcomes',
      'regeneration,derate',
      '--horizon',
      '8',
      '--every',
      '2',
      '--json',
    );
    expect(err).toBe('');
    expect(exitCode).toBe(0);
    const document = JSON.parse(out);
    expect(document.machines).toEqual({ fitted: 5, heldOut: 3 });
    expect(document.moments.fitted).toBeGreaterThan(20);
    expect(document.before.moments).toBe(document.moments.heldOut);
    expect(document.after.bins.reduce((sum: number, bin: { moments: number }) => sum + bin.moments, 0)).toBe(
      document.moments.heldOut,
    );
    for (const factor of Object.values(document.weights.factors)) expect(factor).toBeGreaterThanOrEqual(0);
    expect(document.weights.after).toBeGreaterThanOrEqual(document.weights.before);
    const again = await calibrate('--outcomes', 'regeneration,derate', '--horizon', '8', '--every', '2', '--json');
    expect(again.out).toBe(out);
  });

  it('reports in words, and says when there is too little to go by', async () => {
    const words = await calibrate('--outcomes', 'regeneration', '--horizon', '8', '--every', '3');
    expect(words.out).toMatch(/part of the score +worth, now 1/);
    expect(words.out).toContain('From the refitted score to the chance:');
    writeFileSync(path('none.csv'), 'machineId,kind,start\n');
    const none = await run('calibrate', path('fleet.parquet'), '--truth', path('none.csv'), '--quiet');
    expect(none).toMatchObject({ exitCode: 2, err: expect.stringContaining('too few on one side') });
  });
});
