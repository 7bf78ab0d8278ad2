import { appendFile, mkdir, mkdtemp, readdir, readFile, rename, rm, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { type FolderOptions, type FolderWatch, watchFolder } from '@warmbrick/ingest';
import { openWriter } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import { blockChannels } from '@warmbrick/signals';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { simulated } from './drive.js';
import { away, type FakeIntake, fakeIntake, valuesOf } from './fake-intake.js';

const atMs = Date.UTC(2026, 2, 10, 6);
const quiet = { info: () => {}, warn: () => {}, error: () => {} };

let folder: string;
const watches: FolderWatch[] = [];
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'warmbrick-folder-'));
});
afterEach(async () => {
  await Promise.all(watches.splice(0).map((each) => each.stop()));
  await rm(folder, { recursive: true, force: true });
});

async function start(intake: FakeIntake, options: Partial<FolderOptions> = {}): Promise<FolderWatch> {
  const watch = await watchFolder({
    folder,
    intake,
    logger: quiet,
    lookEveryMs: 10,
    unchangedMs: 30,
    abandonedMs: 400,
    firstRetryMs: 2,
    longestRetryMs: 10,
    ...options,
  });
  watches.push(watch);
  return watch;
}

const names = async (part: string) => (await readdir(join(folder, part))).sort();
const drop = async (name: string, content: string | Uint8Array) => {
  await mkdir(join(folder, 'inbox'), { recursive: true });
  // As a careful sender does: under another name first.
  await writeFile(join(folder, `.${name}`), content);
  await rename(join(folder, `.${name}`), join(folder, 'inbox', name));
};
const soon = <T>(check: () => T | Promise<T>) => vi.waitFor(check, { timeout: 10_000, interval: 15 });

/** Rows of CSV, one a second. */
function csvOf(count: number, machineId = 'loader-01', fromS = 0): string {
  const rows = Array.from({ length: count }, (_, i) => `${machineId},${atMs + (fromS + i) * 1000},${900 + (i % 50)}`);
  return `machineId,time,engineSpeedRpm\n${rows.join('\n')}\n`;
}

describe('files', () => {
  it('of every kind are read and put away; without a machine they are called after the file', async () => {
    const intake = fakeIntake();
    const watch = await start(intake);
    await drop('a.csv', csvOf(10));
    await drop('b.csv.gz', gzipSync(csvOf(10, 'loader-02')));
    await drop('loader-03.ndjson', `{"time":${atMs},"engineSpeedRpm":900}\n`);
    // Source: SAE J1939-71, EEC1: 0.125 rpm a bit in bytes 4-5. J1939-73, DM1: SPN 3216 FMI 4.
    const frames = [0, 0.5, 1].map((s) => `(${(atMs / 1000 + s).toFixed(6)}) can0 0CF00400#FFFFFF401FFFFFFF`);
    await drop(
      'loader-04.log',
      `${frames.join('\n')}\n(${(atMs / 1000 + 1.2).toFixed(6)}) can0 18FECA00#0004900C0401FFFF\n`,
    );
    const block = simulated('loader-05');
    const writer = await openWriter('parquet', join(folder, 'c.parquet'), {
      channels: blockChannels(block),
    });
    writer.block(block);
    await writer.close();
    await rename(join(folder, 'c.parquet'), join(folder, 'inbox', 'c.parquet'));
    await soon(async () => expect(await names('done')).toHaveLength(5));
    expect(await names('inbox')).toEqual([]);
    expect(await names('failed')).toEqual([]);
    const machines = new Set([...intake.values.keys()].map((key) => key.split(' ')[0]));
    expect(machines).toEqual(new Set(['loader-01', 'loader-02', 'loader-03', 'loader-04', 'loader-05']));
    expect([...intake.reports.values()][0]).toMatchObject({ machineId: 'loader-04', codes: [{ spn: 3216, fmi: 4 }] });
    for (const [key, value] of valuesOf([block])) expect(intake.values.get(key)).toBe(value);
    expect(watch.stats()).toMatchObject({ done: 5, failed: 0, faultReports: 1 });
    expect(intake.origins.map(({ way }) => way)).not.toContain('http');
  });

  it('that cannot be read go to failed with what is wrong; what is good of a damaged one is taken', async () => {
    const intake = fakeIntake();
    await start(intake);
    await drop('picture.png', Buffer.from([0x89, 0x50, 0x4e, 0x47, 0, 0, 0, 0, 1, 2, 3, 0, 0, 0, 255, 254]));
    await drop('empty.csv', '');
    await drop('strange.csv', 'time,colour\n1,2\n');
    const whole = gzipSync(csvOf(50_000));
    await drop('cut.csv.gz', whole.subarray(0, Math.floor(whole.length / 2)));
    await soon(async () => expect(await names('failed')).toHaveLength(8));
    const reason = async (name: string) => readFile(join(folder, 'failed', `${name}.reason.txt`), 'utf8');
    expect(await reason('picture.png')).toMatch(/no known format/);
    expect(await reason('empty.csv')).toMatch(/empty/);
    expect(await reason('strange.csv')).toMatch(/colour/);
    expect(await reason('cut.csv.gz')).toMatch(/cut short/);
    expect(await reason('cut.csv.gz')).not.toContain('working');
    expect(intake.values.size).toBeGreaterThan(10_000);
    expect(intake.values.size).toBeLessThan(50_000);
  });

  it('with bad lines are done, and the lines are listed beside them', async () => {
    const intake = fakeIntake();
    const watch = await start(intake);
    await drop('a.csv', `${csvOf(5)}loader-01,yesterday,900\n`);
    await soon(async () => expect(await names('done')).toEqual(['a.csv', 'a.csv.rejects.txt']));
    expect(await readFile(join(folder, 'done', 'a.csv.rejects.txt'), 'utf8')).toMatch(/a\.csv, line 7: bad-time/);
    expect(watch.stats()).toMatchObject({ done: 1, rejects: 1, samples: 5 });
  });

  it('that still grow are left alone, and unfinished names too', async () => {
    const intake = fakeIntake();
    await start(intake, { unchangedMs: 150 });
    const path = join(folder, 'inbox', 'a.csv');
    await writeFile(path, csvOf(1));
    for (let i = 1; i < 10; i++) {
      await new Promise((resolve) => setTimeout(resolve, 40));
      await appendFile(path, `loader-01,${atMs + i * 1000},900\n`);
    }
    await drop('b.csv.part', csvOf(1));
    expect(intake.calls).toBe(0);
    await soon(async () => expect(await names('done')).toEqual(['a.csv']));
    expect(intake.values.size).toBe(10);
    expect(await names('inbox')).toEqual(['b.csv.part']);
  });

  it('that are written to while they are read are read again to their end', async () => {
    const intake = fakeIntake();
    await start(intake);
    let appended = 0;
    intake.after = async () => {
      if (appended++ > 0) return;
      const [turn] = (await readdir(join(folder, 'working'), { recursive: true })).filter((name) =>
        name.endsWith('a.csv'),
      );
      await appendFile(join(folder, 'working', turn as string), `loader-01,${atMs + 60_000},950\n`);
    };
    await drop('a.csv', csvOf(5));
    await soon(async () => expect(await names('done')).toEqual(['a.csv']));
    expect(intake.values.size).toBe(6);
  });

  it('of the same name never replace each other', async () => {
    const intake = fakeIntake();
    await start(intake);
    for (let turn = 0; turn < 3; turn++) {
      await drop('a.csv', csvOf(1, 'loader-01', turn));
      await soon(async () => expect(await names('done')).toHaveLength(turn + 1));
    }
    expect(await names('done')).toEqual(['a.csv', 'a~2.csv', 'a~3.csv']);
    expect(intake.values.size).toBe(3);
  });
});

describe('when something fails', () => {
  it('an intake that is away for a while costs nothing', async () => {
    const intake = fakeIntake();
    let calls = 0;
    intake.before = () => {
      if (++calls % 3 !== 0) throw away();
    };
    const watch = await start(intake);
    await drop('a.csv', csvOf(250_000));
    await soon(async () => expect(await names('done')).toEqual(['a.csv']));
    expect(intake.values.size).toBe(250_000);
    expect(watch.stats().retries).toBeGreaterThan(3);
  });

  it('what the pipeline refuses, and what it cannot work, goes to failed and stops nothing', async () => {
    const intake = fakeIntake();
    const failures = [new OperatingError('too large', { code: 'batch-too-large' }), new TypeError('a bug')];
    intake.before = () => {
      const failure = failures.shift();
      if (failure !== undefined) throw failure;
    };
    const watch = await start(intake);
    for (const name of ['a.csv', 'b.csv', 'c.csv']) await drop(name, csvOf(3));
    await soon(() => expect(watch.stats()).toMatchObject({ done: 1, failed: 2 }));
    expect(await readFile(join(folder, 'failed', 'a.csv.reason.txt'), 'utf8')).toMatch(/refuses/);
    expect(await readFile(join(folder, 'failed', 'b.csv.reason.txt'), 'utf8')).not.toMatch(/at .*\.ts/);
  });

  it('a file that is larger than the disk may hold goes to failed with what to do', async () => {
    await start(fakeIntake(), { mostSpoolBytes: 20_000 });
    await drop('a.csv', csvOf(5000));
    await soon(async () => expect(await names('failed')).toHaveLength(2));
    expect(await readFile(join(folder, 'failed', 'a.csv.reason.txt'), 'utf8')).toMatch(/Cut the file/);
  });

  it('stopping in the middle puts the file back, and the next process reads it whole', async () => {
    const intake = fakeIntake();
    const first = await start(intake);
    let stopped: Promise<void> | undefined;
    intake.after = () => {
      stopped ??= first.stop();
    };
    await drop('a.csv', csvOf(250_000));
    await soon(() => expect(stopped).toBeDefined());
    await stopped;
    expect(intake.values.size).toBeLessThan(250_000);
    expect(await names('inbox')).toEqual(['a.csv']);
    expect(await names('working')).toEqual([]);
    await start(intake);
    await soon(async () => expect(await names('done')).toEqual(['a.csv']));
    expect(intake.values.size).toBe(250_000);
  });

  it('a file of a process that died is read by another, once it is certain', async () => {
    // What a killed process leaves behind.
    const dead = join(folder, 'working', 'a-process');
    await mkdir(join(dead, '0'), { recursive: true });
    await writeFile(join(dead, '.alive'), '');
    await writeFile(join(dead, '.spool'), 'half');
    await writeFile(join(dead, '0', 'a.csv'), csvOf(5));
    const alive = join(folder, 'working', 'another');
    await mkdir(join(alive, '0'), { recursive: true });
    await writeFile(join(alive, '.alive'), '');
    await writeFile(join(alive, '0', 'b.csv'), csvOf(5, 'loader-02'));
    let tick = 0;
    const beat = setInterval(() => void utimes(join(alive, '.alive'), 1000 + tick, 1000 + tick++), 50);
    const intake = fakeIntake();
    await start(intake);
    await soon(async () => expect(await names('done')).toEqual(['a.csv']));
    await new Promise((resolve) => setTimeout(resolve, 600));
    clearInterval(beat);
    expect(await names('done')).toEqual(['a.csv']);
    expect(await names('working')).not.toContain('a-process');
    await soon(async () => expect(await names('done')).toEqual(['a.csv', 'b.csv']));
  });

  it('one that was only taken for dead loses no file, though a new one of the name has come', async () => {
    const slow = fakeIntake();
    let release = () => {};
    slow.before = () =>
      new Promise<void>((resolve) => {
        release = resolve;
      });
    await start(slow);
    await drop('a.csv', csvOf(5));
    await soon(() => expect(slow.calls).toBe(1));
    // Somebody takes it away from under the first, and a file of the same name comes.
    const [held] = (await readdir(join(folder, 'working'), { recursive: true })).filter((name) =>
      name.endsWith('a.csv'),
    );
    await rename(join(folder, 'working', held as string), join(folder, 'inbox', 'a.csv'));
    slow.before = () => {};
    release();
    await soon(async () => expect(await names('done')).toEqual(['a.csv']));
    expect(slow.values.size).toBe(5);
  });

  it('many processes on one folder work each file once', async () => {
    const intakes = [fakeIntake(), fakeIntake(), fakeIntake()];
    for (const intake of intakes) {
      intake.after = () => new Promise((resolve) => setTimeout(resolve, 5));
      await start(intake);
    }
    const count = 40;
    for (let i = 0; i < count; i++) await drop(`m${i}.csv`, csvOf(3, `m${i}`));
    await soon(async () => expect(await names('done')).toHaveLength(count));
    expect(intakes.reduce((sum, { calls }) => sum + calls, 0)).toBe(count);
    expect(intakes.filter(({ calls }) => calls > 0).length).toBeGreaterThan(1);
    expect(intakes.reduce((sum, { values }) => sum + values.size, 0)).toBe(count * 3);
  });
});

describe('large files', () => {
  it('wait for the intake on the disk and not in memory, in order of time', async () => {
    const intake = fakeIntake();
    let held = 0;
    let most = 0;
    let lastMs = 0;
    let isOrdered = true;
    let samples = 0;
    intake.samples = async (blocks) => {
      held++;
      most = Math.max(most, held);
      for (const { timeMs } of blocks) {
        samples += timeMs.length;
        isOrdered &&= timeMs[0] !== undefined && timeMs[0] > lastMs;
        lastMs = timeMs.at(-1) ?? lastMs;
      }
      await new Promise((resolve) => setTimeout(resolve, 10));
      held--;
    };
    await start(intake);
    const count = 1_500_000;
    await drop('a.csv.gz', gzipSync(csvOf(count), { level: 1 }));
    await soon(async () => expect(await names('done')).toEqual(['a.csv.gz']));
    expect(samples).toBe(count);
    expect(isOrdered).toBe(true);
    expect(most).toBe(1);
  }, 40_000);

  it('that are not in order come sorted', async () => {
    const intake = fakeIntake();
    const times: number[] = [];
    const { samples } = intake;
    intake.samples = async (blocks, origin) => {
      for (const { timeMs } of blocks) times.push(...timeMs);
      await samples(blocks, origin);
    };
    await start(intake);
    const [head, ...rows] = csvOf(3000).trim().split('\n');
    await drop('a.csv', [head, ...rows.slice(1500), ...rows.slice(0, 1500)].join('\n'));
    await soon(async () => expect(await names('done')).toEqual(['a.csv']));
    expect(times).toHaveLength(3000);
    expect(times.every((at, i) => i === 0 || at > (times[i - 1] as number))).toBe(true);
  });
});
