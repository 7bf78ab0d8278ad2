import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type ReplayDocument, replayDocumentSchema } from '@warmbrick/contracts';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from './run.js';

const cases = fileURLToPath(new URL('../../replay-data/', import.meta.url));
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-replay-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

/** An hour and a quarter of idle after work, as CSV at 5 s. */
function idleCsv(): string {
  const lines = ['machineId,time,engineSpeedRpm,engineLoadPct,exhaustTempC'];
  for (let s = 0; s < 6300; s += 5) {
    const isIdle = s >= 900 && s < 900 + 4500;
    const time = new Date(Date.UTC(2026, 2, 2, 6) + s * 1000).toISOString();
    lines.push(`crusher-3,${time},${isIdle ? '955,9,138' : '1650,72,391'}`);
  }
  return `${lines.join('\n')}\n`;
}

describe('warmbrick replay', () => {
  it('prints one document with --json, which keeps its own schema', async () => {
    const { exitCode, out, err } = await run('replay', file('idle.csv', idleCsv()), '--json', '--quiet');
    expect(exitCode).toBe(0);
    expect(err).toBe('');
    const document: ReplayDocument = replayDocumentSchema.parse(JSON.parse(out));
    const [machine] = document.machines;
    expect(machine?.machineId).toBe('crusher-3');
    expect(machine?.residency.belowS).toBe(4500);
    const streak = machine?.findings.find((finding) => finding.kind === 'idle-streak');
    expect(streak).toMatchObject({
      startedAt: '2026-03-02T06:15:00.000Z',
      endedAt: '2026-03-02T07:30:00.000Z',
      values: { durationS: 4500 },
      thresholdSet: 'built-in-1',
    });
    const parts = Object.values(machine?.score?.parts ?? {});
    expect(parts.reduce((sum, part) => sum + part, 0)).toBeCloseTo(machine?.score?.value ?? -1, 6);
  });

  it('prints a line a machine and one for the reading with --jsonl', async () => {
    const { out } = await run('replay', file('idle-lines.csv', idleCsv()), '--jsonl', '--quiet');
    const lines = out
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(lines).toHaveLength(2);
    expect(lines[0].machineId).toBe('crusher-3');
    expect(lines[1]).toMatchObject({ rejects: { count: 0 }, reading: { samples: 1260 } });
  });

  it('prints a readable report with the day as a picture', async () => {
    const { exitCode, out, err } = await run('replay', file('idle-text.csv', idleCsv()));
    expect(exitCode).toBe(0);
    expect(out).toContain('crusher-3: soot risk');
    expect(out).toMatch(/2026-03-02 {2} {24}#ooooo#/);
    expect(out).toContain('idle for 1 h 15 min');
    expect(err).toMatch(/1,260 samples in \d/);
  });

  it('takes a profile: base idle and time zone of one machine', async () => {
    const profile = file(
      'profile.json',
      '{"machines": {"crusher-3": {"baseIdleRpm": 700, "timeZone": "Europe/Oslo"}}}',
    );
    const { out } = await run('replay', file('idle-2.csv', idleCsv()), '--profile', profile);
    expect(out).not.toContain('idle for');
    expect(out).toContain('Europe/Oslo');
  });

  it('gives the same for the rows in any order, split over files and repeated', async () => {
    const [head = '', ...rows] = idleCsv().trim().split('\n');
    const mixed = rows.map((row, k) => [(k * 7919) % rows.length, row] as const).sort((a, b) => a[0] - b[0]);
    const part = (keep: (k: number) => boolean) =>
      [head, ...mixed.filter((_, k) => keep(k)).map(([, row]) => row)].join('\n');
    const a = file(
      'part-a.csv',
      part((k) => k % 3 !== 0),
    );
    const b = file(
      'part-b.csv',
      part((k) => k % 3 === 0 || k % 5 === 0),
    );
    const whole = JSON.parse((await run('replay', file('whole.csv', idleCsv()), '--json')).out);
    const parts = JSON.parse((await run('replay', b, a, '--json')).out);
    expect(JSON.stringify(parts.machines)).toBe(JSON.stringify(whole.machines));
    expect(parts.reading).toMatchObject({ wasSorted: false, conflicts: 0 });
    expect(parts.reading.duplicates).toBeGreaterThan(0);
  });

  it('reads the recorded cases as they lie there', async () => {
    const { out } = await run('replay', `${cases}gateway-gaps/recording-as-columns.parquet`, '--json');
    const expected = JSON.parse(readFileSync(`${cases}gateway-gaps/expected.json`, 'utf8'));
    const machine = JSON.parse(out).machines[0];
    expect(machine.machineId).toBe(expected.machines[0].machineId);
    expect(machine.residency.runningS).toBe(expected.machines[0].residency.runningS);
  });
});

describe('a user’s mistakes get a message and no stack trace', () => {
  const mistake = async (...args: string[]) => {
    const result = await run(...args);
    expect(result.err).not.toMatch(/\n {4}at /);
    expect(result.out).toBe('');
    return result;
  };

  it.each([
    ['no command at all', [], 2, 'Usage: warmbrick'],
    ['an unknown command', ['replya', 'x.csv'], 2, 'Did you mean replay?'],
    ['no file', ['replay'], 2, "missing required argument 'file'"],
    ['an unknown option', ['replay', 'x.csv', '--jsn'], 2, 'Did you mean --json'],
    ['a bad grid', ['replay', 'x.csv', '--grid', 'fast'], 2, 'Expected a number of seconds'],
    ['a bad start', ['replay', 'x.csv', '--start', 'yesterday'], 2, 'Expected a time with its offset'],
    ['an absent file', ['replay', '/nowhere/x.csv'], 2, 'There is no such file'],
    ['an absent profile', ['replay', 'x.csv', '--profile', '/nowhere/p.json'], 2, 'the profile cannot be read'],
  ])('%s', async (_what, args, exitCode, message) => {
    const result = await mistake(...args);
    expect(result.exitCode).toBe(exitCode);
    expect(result.err).toContain(message);
  });

  it('a folder, an empty file, random bytes, other columns, bad times', async () => {
    const bytes = Uint8Array.from({ length: 5000 }, (_, k) => (k * k * 31 + k * 7 + 129) & 255);
    expect((await mistake('replay', folder)).err).toContain('folder');
    expect((await mistake('replay', file('empty.csv', ''))).err).toContain('empty');
    expect((await mistake('replay', file('noise.bin', bytes))).err).toContain('no known format');
    expect(
      (await mistake('replay', file('other.csv', 'time,engineSpedRpm\n2026-01-01T00:00:00Z,900\n'))).err,
    ).toContain('engineSpeedRpm');
    const badTimes = file('times.csv', 'time,engineSpeedRpm\nsoon,900\nlater,950\n');
    expect((await mistake('replay', badTimes)).err).toContain('bad-time');
  });

  it('a profile with a wrong field, naming it', async () => {
    const profile = file('wrong.json', '{"baseIdleRpm": "slow", "idleBand": 3}');
    const { err, exitCode } = await mistake('replay', file('idle-3.csv', idleCsv()), '--profile', profile);
    expect(exitCode).toBe(2);
    expect(err).toContain('baseIdleRpm');
    expect(err).toContain('idleBand');
  });

  it('counts bad lines, names their place and goes on', async () => {
    const lines = idleCsv().split('\n');
    lines.splice(100, 0, 'crusher-3,not a time,955,9,138', 'crusher-3,2026-03-02T06:08:17Z,fast,9,138,extra,,,"');
    const { exitCode, out } = await run('replay', file('spoilt.csv', lines.join('\n')), '--json');
    expect(exitCode).toBe(0);
    const document = JSON.parse(out);
    expect(document.rejects.count).toBeGreaterThan(0);
    expect(document.rejects.examples[0].where).toContain('line 101');
    expect(document.machines[0].findings.map((finding: { kind: string }) => finding.kind)).toContain('idle-streak');
  });

  it('reads up to the damage of a cut Parquet or gzip and says so', async () => {
    const whole = readFileSync(`${cases}gateway-gaps/recording-as-columns.parquet`);
    const cut = await run('replay', file('cut.parquet', whole.subarray(0, whole.length - 500)));
    expect(cut.exitCode).not.toBe(0);
    expect(cut.err).toContain('cut.parquet');
    const zipped = readFileSync(`${cases}long-idles/recording.ndjson.gz`);
    const gzip = await run('replay', file('cut.ndjson.gz', zipped.subarray(0, zipped.length >> 1)), '--json');
    expect(gzip.exitCode).toBe(1);
    expect(JSON.parse(gzip.out).machines).toHaveLength(1);
    expect(gzip.err).toContain('cut.ndjson.gz');
  });
});

describe('warmbrick decode and channels', () => {
  it('writes the channels as CSV, NDJSON and Parquet that replay alike', async () => {
    const source = file('decode.csv', idleCsv());
    const replayed = JSON.parse((await run('replay', source, '--json')).out).machines;
    for (const format of ['csv', 'ndjson', 'parquet']) {
      const path = join(folder, `decoded.${format}`);
      expect((await run('decode', source, '--to', format, '--out', path)).exitCode).toBe(0);
      expect(JSON.parse((await run('replay', path, '--json')).out).machines).toEqual(replayed);
    }
  });

  it('lists channels with unit and range, and profile fields with their source', async () => {
    expect((await run('channels')).out).toMatch(/scrInletTempC +degC +-60 +1100/);
    expect((await run('channels', '--profile')).out).toMatch(/baseIdleRpm +950 +rpm +common practice/);
    expect(JSON.parse((await run('channels', '--json')).out)[0].name).toBe('engineSpeedRpm');
  });
});
