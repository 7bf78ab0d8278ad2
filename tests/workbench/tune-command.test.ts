import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { thresholdSetSchema } from '@warmbrick/analysis';
import { runCommand } from '@warmbrick/workbench';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from './run.js';

let folder: string;
const listeners = process.listenerCount('SIGINT');
const path = (name: string) => join(folder, name);
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-tune-test-'));
  const files = ['--out', path('fleet.parquet'), '--truth', path('truth.ndjson'), '--profiles', path('profiles.json')];
  const plan = ['--machines', '12', '--days', '1', '--habit', 'idler', '--no-mishaps', '--to', 'parquet', '--quiet'];
  expect((await run('simulate', ...plan, ...files)).exitCode).toBe(0);
  // What this site calls too long: half an hour. The times are the simulator's, which knows nothing of thresholds.
  const truth = readFileSync(path('truth.ndjson'), 'utf8').trim().split('\n');
  const idles = truth
    .map(
      (line) =>
        JSON.parse(line) as { machineId: string; kind: string; startedAt: string; endedAt: string; durationS: number },
    )
    .filter(({ kind, durationS, endedAt }) => kind === 'idle-streak' && durationS >= 1800 && endedAt !== null);
  const rows = idles.map(({ machineId, startedAt, endedAt }) => `${machineId},idle-streak,${startedAt},${endedAt}`);
  writeFileSync(path('labels.csv'), `machineId,kind,start,end\n${rows.join('\n')}\n`);
}, 120_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const tune = (...more: string[]) =>
  run(
    'tune',
    path('fleet.parquet'),
    ...['--profile', path('profiles.json'), '--truth', path('labels.csv'), '--hold-out', '0.7', '--quiet'],
    ...['--thresholds', 'idleLimitS=600..14400', '--trials', '25', ...more],
  );

describe('warmbrick tune', () => {
  it('finds a set, proves it on held-out machines and writes it down', async () => {
    const { exitCode, out, err } = await tune('--jobs', '1', '--json', '--out', path('found.json'));
    expect(err).toBe('');
    expect(exitCode).toBe(0);
    const document = JSON.parse(out);
    expect(document.verdict.verdict).toBe('better');
    expect(document.judged).toBe(25);
    expect(document.split.tuning.filter((id: string) => document.split.heldOut.includes(id))).toEqual([]);
    expect(document.best.heldOut.figures.costPerMachineMonth).toBeLessThan(
      document.before.heldOut.figures.costPerMachineMonth / 2,
    );
    const written = thresholdSetSchema.parse(JSON.parse(readFileSync(path('found.json'), 'utf8')));
    expect(written.values.idleLimitS).toBe(document.best.tuning.values.idleLimitS);
    expect(written.version).toMatch(/^tuned-[0-9a-f]{8}$/);
    // The found set goes straight into a comparison.
    const compared = await run('compare', 'built-in', path('found.json'), path('fleet.parquet'), '--quiet');
    expect(compared.out).toContain(`idleLimitS: 3600 -> ${written.values.idleLimitS}`);
    const judged = await run(
      'compare',
      'built-in',
      path('found.json'),
      path('fleet.parquet'),
      ...['--profile', path('profiles.json'), '--truth', path('labels.csv'), '--json', '--quiet'],
    );
    const { outcomes } = JSON.parse(judged.out);
    expect(outcomes.after.hits).toBeGreaterThan(outcomes.before.hits);
    expect(outcomes.after.hits + outcomes.after.misses).toBe(outcomes.after.labels);
    const { low, value, high } = outcomes.after.figures.costPerMachineMonth;
    expect(low).toBeLessThanOrEqual(value);
    expect(high).toBeGreaterThanOrEqual(value);
  });

  it('gives the same on two threads, and from a journal that was cut off in the middle of a line', async () => {
    const whole = await tune('--jobs', '1', '--json');
    const threads = await tune('--jobs', '2', '--json', '--journal', path('journal.ndjson'));
    expect(threads.out).toBe(whole.out);
    const journal = readFileSync(path('journal.ndjson'), 'utf8');
    const half = journal.slice(0, Math.floor(journal.length * 0.4));
    writeFileSync(path('journal.ndjson'), half);
    const resumed = await tune('--jobs', '1', '--json', '--journal', path('journal.ndjson'));
    expect(resumed.out).toBe(whole.out);
    // What was whole was not judged again: its lines are there once.
    const keys = readFileSync(path('journal.ndjson'), 'utf8')
      .split('\n')
      .flatMap((line) => /^\{"key":"([^"]*)"/.exec(line)?.[1] ?? []);
    const kept = half.split('\n').slice(1, -1);
    for (const line of kept) expect(keys.filter((key) => line.includes(`"key":"${key}"`))).toHaveLength(1);
    expect(kept.length).toBeGreaterThan(3);
  });

  it('stops after a round when it is told to, and keeps what it has', async () => {
    const said: string[] = [];
    const out: string[] = [];
    const args = ['tune', path('fleet.parquet'), '--profile', path('profiles.json'), '--truth', path('labels.csv')];
    const more = ['--thresholds', 'idleLimitS', '--trials', '5000', '--jobs', '1', '--journal', path('stopped.ndjson')];
    const exitCode = await runCommand([...args, ...more], {
      out: (text) => void out.push(text),
      err: (text) => {
        said.push(text);
        if (text.includes('sets judged')) process.emit('SIGINT');
      },
      isWatched: false,
    });
    expect(exitCode).toBe(3);
    expect(said.join('')).toContain('stopping after this round');
    expect(out.join('')).toContain('The search was stopped; the same command with its journal goes on.');
    expect(readFileSync(path('stopped.ndjson'), 'utf8').split('\n').length).toBeGreaterThan(5);
    expect(process.listenerCount('SIGINT')).toBe(listeners);
  });

  it('reports in words, takes several objectives and parts time instead of machines', async () => {
    const { out } = await tune(
      '--method',
      'grid',
      '--objective',
      'costPerMachineMonth,findingsPerAnalystDay',
      '--jobs',
      '1',
    );
    expect(out).toMatch(/threshold +built-in-1 +found +searched/);
    expect(out).toContain('as good between');
    expect(out).toContain('Sets that no other beats in every objective');
    const byTime = await tune('--hold-out-from', '2026-03-02T11:00:00Z', '--jobs', '1');
    expect(byTime.out).toContain('fitted before 2026-03-02T11:00:00.000Z, judged after');
  });

  it('takes truth found in the data and rules that look ahead', async () => {
    const { exitCode, out } = await tune(
      '--truth',
      'found:idle-streak',
      '--judge',
      'idle-streak=cold-dwell@12h',
      '--jobs',
      '1',
      '--json',
    );
    expect(exitCode).toBe(0);
    expect(JSON.parse(out).rules).toEqual([
      { label: 'idle-streak', findings: ['cold-dwell'], foretellsMs: 43_200_000 },
    ]);
  });

  it.each([
    [['--thresholds', 'idelLimitS'], 'there is no threshold "idelLimitS"; did you mean idleLimitS?'],
    [['--thresholds', 'idleLimitS=5..9'], 'within 60..86400 s'],
    [['--judge', 'derate=cold-dwel'], 'there is no finding "cold-dwel"; did you mean cold-dwell?'],
    [['--judge', 'derate=cold-dwell'], 'none of the labels can be judged'],
    [['--weights', 'mis=3'], 'weights are miss, falseAlarm, look, delayH'],
    [['--objective', 'price'], 'there is no figure "price"'],
    [['--hold-out-from', '2030-01-01T00:00:00Z'], 'one of the two parts has no samples'],
  ])('says what is wrong with %j', async (flags, message) => {
    const { exitCode, err } = await tune('--jobs', '1', ...(flags as string[]));
    expect(err).toContain(message);
    expect(exitCode).toBe(2);
  });

  it('refuses the journal of another search, and labels that it cannot read', async () => {
    await tune('--jobs', '1', '--journal', path('other.ndjson'), '--trials', '2');
    const other = await tune('--jobs', '1', '--journal', path('other.ndjson'), '--thresholds', 'idleBlipS');
    expect(other).toMatchObject({ exitCode: 2, err: expect.stringContaining('the journal is of another search') });
    writeFileSync(path('wrong.csv'), 'machineId,kind,start\nloader-1,idle-streak,yesterday\n');
    const wrong = await tune('--jobs', '1', '--truth', path('wrong.csv'));
    expect(wrong.err).toContain('wrong.csv, line 2: start is no time with an offset');
  });
});
