import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type ComparisonDocument, comparisonDocumentSchema, type FindingDocument } from '@warmbrick/contracts';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from './run.js';

const cases = fileURLToPath(new URL('../../replay-data/', import.meta.url));
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-compare-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function setFile(name: string, values: unknown): string {
  const path = join(folder, name);
  writeFileSync(path, JSON.stringify(values));
  return path;
}

const loader = `${cases}hot-stops/recording-loader.csv.gz`;

async function findingsWith(set: string, files: readonly string[]): Promise<Map<string, FindingDocument>> {
  const { out } = await run('replay', ...files, '--with', set, '--json', '--quiet');
  const { machines } = JSON.parse(out) as { machines: { findings: FindingDocument[] }[] };
  return new Map(machines.flatMap(({ findings }) => findings).map((finding) => [finding.id, finding]));
}

describe('warmbrick compare', () => {
  it('finds equal sets equal, with exit code 0', async () => {
    const same = setFile('same.json', { idleLimitS: 3600 });
    const { exitCode, out } = await run('compare', 'built-in', same, loader, '--json', '--quiet');
    expect(exitCode).toBe(0);
    const document = comparisonDocumentSchema.parse(JSON.parse(out));
    expect(document).toMatchObject({ isEqual: true, thresholds: {}, totals: { appears: 0, vanishes: 0, moves: 0 } });
    expect(document.totals.before).toBeGreaterThan(0);
    expect(document.machines.flatMap(({ changes }) => changes)).toEqual([]);
  });

  // Each of the recorded cases has a threshold that it is sensitive to; see tests/golden/sensitivity.test.ts.
  it.each([
    ['good-shift', ['recording.csv.gz'], { idleLimitS: 300 }],
    ['long-idles', ['recording.ndjson.gz'], { idleBlipS: 5 }],
    ['hot-stops', ['recording-loader.csv.gz', 'recording-hauler.ndjson.gz'], { cooldownWantedS: 60 }],
    ['light-duty-below-window', ['recording.csv'], { coldLimitS: 20_000 }],
    ['gateway-gaps', ['recording.csv.gz'], { dataGapS: 100 }],
    [
      'cold-starts',
      ['recording-at-once.csv.gz', 'recording-warmed-up.csv.gz'],
      { warmupBaseS: 0, warmupPerKelvinS: 0 },
    ],
  ])('names exactly the changed findings of the recorded case %s', async (name, recordings, values) => {
    const files = recordings.map((file) => `${cases}${name}/${file}`);
    const moved = setFile(`${name}.json`, values);
    const { exitCode, out } = await run('compare', 'built-in', moved, ...files, '--json', '--quiet');
    expect(exitCode).toBe(1);
    const document: ComparisonDocument = comparisonDocumentSchema.parse(JSON.parse(out));
    const changes = document.machines.flatMap((machine) => machine.changes);
    const idsOf = (side: 'before' | 'after', types: readonly string[]) =>
      changes.filter(({ type }) => types.includes(type)).map((change) => change[side]?.id);

    // Two replays, each under one set, say the same by their ids alone.
    const before = await findingsWith('built-in', files);
    const after = await findingsWith(moved, files);
    const gone = [...before.keys()].filter((id) => !after.has(id));
    const come = [...after.keys()].filter((id) => !before.has(id));
    expect(gone.length + come.length).toBeGreaterThan(0);
    expect(idsOf('before', ['vanishes', 'moves']).sort()).toEqual(gone.sort());
    expect(idsOf('after', ['appears', 'moves']).sort()).toEqual(come.sort());
    for (const id of idsOf('before', ['changes'])) {
      expect(before.get(id as string)).not.toEqual(after.get(id as string));
    }
  });

  it('reports shortly and at length, and writes a page that stands by itself', async () => {
    const moved = setFile('shorter.json', { version: 'shorter-idles', values: { idleLimitS: 1800 } });
    const page = join(folder, 'page.html');
    const args = ['compare', 'built-in', moved, `${cases}long-idles/recording.ndjson.gz`, '--quiet'];
    const alerts = await run(...args, '--alerts');
    expect(alerts.out).toMatch(/idle-over-an-hour +1 +3/);
    const short = await run(...args);
    expect(short.out).not.toContain('alert by rule');
    expect(short.out).toContain('built-in-1 against shorter-idles on 1 machine');
    expect(short.out).toMatch(/idle-streak +1 +3 +2 +0 +0 +1/);
    expect(short.out).not.toContain('appears  idle-streak');
    const long = await run(...args, '--long', '--html', page);
    expect(long.out).toMatch(/appears +idle-streak: idle for 43 min/);
    const html = readFileSync(page, 'utf8');
    expect(html).toContain('<svg');
    expect(html).not.toMatch(/(src|href)="?http|<script|@import/);
    expect((await run(...args, '--long', '--html', page)).out).toBe(long.out);
    expect(readFileSync(page, 'utf8')).toBe(html);
  });

  it('says what is wrong with a set, and which threshold was meant', async () => {
    const wrong = setFile('wrong.json', { idelLimitS: 1800, cooldownWantedS: 5, zzz: 1 });
    const { exitCode, err } = await run('compare', 'built-in', wrong, loader, '--quiet');
    expect(exitCode).toBe(2);
    expect(err).toContain('"idelLimitS"; did you mean idleLimitS?');
    expect(err).toContain('cooldownWantedS: Too small: expected number to be >=10');
    expect(err).toContain('there is no threshold "zzz".');
    const absent = await run('compare', 'built-in', join(folder, 'none.json'), loader, '--quiet');
    expect(absent).toMatchObject({ exitCode: 2, err: expect.stringContaining('cannot be read') });
    expect((await run('compare', 'built-in', 'built-in', '--quiet')).err).toContain('no recording was named');
  });
});
