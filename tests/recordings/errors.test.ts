import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { DamagedRecordingError, openWriter, readInOrder } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import { describe, expect, test } from 'vitest';
import { contentOf, keepingSink, testFile, testFolder } from './collected.js';

const formats =
  'a candump log, a CSV of CAN frames, a CSV or NDJSON of named channels, or Parquet, each also compressed with gzip';
const good = `machineId,time,exhaustTempC\n${Array.from({ length: 20_000 }, (_, i) => `m,${i * 1000},${200 + (i % 100)}\n`).join('')}`;

async function failure(paths: readonly string[], sink = keepingSink()): Promise<OperatingError> {
  const error = await readInOrder(paths, {}, { block: sink.block, restart: sink.restart }).catch(
    (thrown: unknown) => thrown,
  );
  expect(error).toBeInstanceOf(OperatingError);
  return error as OperatingError;
}

async function messageOf(name: string, content: string | Uint8Array): Promise<string> {
  const folder = testFolder();
  const error = await failure([testFile(name, content, folder)]);
  return error.toUserMessage().replaceAll(`${folder}/`, '');
}

function randomBytes(count: number): Uint8Array {
  // A linear congruential generator, so that the bytes are the same every time.
  let state = 12_345;
  return Uint8Array.from({ length: count }, () => {
    state = (Math.imul(state, 1_103_515_245) + 12_345) >>> 0;
    return state >>> 24;
  });
}

describe('a recording that cannot be read says what, where, what was expected and what to do', () => {
  test('no file', async () => {
    expect((await failure(['/nowhere/shift.csv'])).toUserMessage()).toBe(
      '/nowhere/shift.csv: There is no such file. Check the path; "-" reads standard input.',
    );
    expect((await failure([])).toUserMessage()).toBe(
      'No recording is named. Name one file at least; "-" reads standard input.',
    );
  });

  test('a folder', async () => {
    const folder = testFolder();
    expect((await failure([`${folder}/`])).toUserMessage()).toBe(
      `${folder}/: This is a folder; a recording is a file. Name the files in it, such as ${folder}/*.parquet.`,
    );
  });

  test.each<[string, string | Uint8Array, string]>([
    ['nothing', '', `x: The recording is empty. Expected ${formats}. Record or export it again.`],
    ['an empty gzip', gzipSync(''), `x: The recording is empty. Expected ${formats}. Record or export it again.`],
    [
      'random bytes',
      randomBytes(4096),
      `x: The content is of no known format. Expected ${formats}. Export it in one of these; the name of the file does not matter.`,
    ],
    [
      'prose',
      'Dear site,\nplease find attached\n'.replace(',', ''),
      `x: The content is of no known format. Expected ${formats}. Export it in one of these; the name of the file does not matter.`,
    ],
    [
      'no time column',
      'machineId,exhaustTempC\nm,200\n',
      'x: There is no column "time" among: machineId, exhaustTempC. Name the column of times "time"; it holds RFC 3339 with an offset, or UTC epoch milliseconds.',
    ],
    [
      'no known channel',
      'time,engine_speed_rpm,exhaustTemp\n1,2,3\n',
      'x: None of the columns names a known channel: engine_speed_rpm, exhaustTemp. Did you mean "engineSpeedRpm" for "engine_speed_rpm", "exhaustTempC" for "exhaustTemp"? Names are written exactly as in the channel catalogue.',
    ],
    [
      'no column beside time',
      'machineId,time\nm,1\n',
      'x: There is no column beside time and machine. Known are engineSpeedRpm, engineLoadPct, exhaustTempC, turbineOutTempC, docInletTempC, docOutletTempC, dpfInletTempC, dpfOutletTempC and 38 more. Names are written exactly as in the channel catalogue.',
    ],
    [
      'no usable row',
      'time,exhaustTempC\n2024-06-01 06:00:00,200\nnoon,200\n',
      'x: There is no usable sample: all 2 were rejected; the first (x, line 2) as bad-time: "2024-06-01 06:00:00"; expected RFC 3339 with an offset, or epoch milliseconds, from 1970 to 2100. Check the times, the machine name and the channel names.',
    ],
    [
      'a header alone',
      'time,exhaustTempC\n',
      'x: There is no usable sample: it holds no rows for what was asked. Check the times, the machine name and the channel names.',
    ],
    [
      'a Parquet file cut short',
      new TextEncoder().encode(`PAR1${'x'.repeat(500)}`),
      'x: The Parquet file is cut short or damaged. What could be decoded before the damage was read. Copy or export the file again to get the rest.',
    ],
    [
      'a CSV of frames without their columns',
      'time,pgn,source,data\n1,2,3,00\n',
      'x: A CSV of CAN frames lacks the columns priority, destination. Expected time (ms), pgn, priority, source, destination (decimal) and data (bytes in hexadecimal). Export it with them.',
    ],
  ])('%s', async (_, content, message) => {
    expect(await messageOf('x', content)).toBe(message);
  });

  test('an output that cannot be written', async () => {
    for (const format of ['csv', 'ndjson', 'parquet'] as const) {
      const error = await openWriter(format, '/nowhere/out').catch((thrown: unknown) => thrown);
      expect((error as OperatingError).toUserMessage()).toBe(
        '/nowhere/out: The output cannot be written (ENOENT). Check that its folder exists, that you may write there and that the disk is not full.',
      );
    }
  });

  test('a bad file among good ones is found before any is read', async () => {
    const sink = keepingSink();
    const error = await failure([testFile('a.csv', good), '/nowhere/b.csv'], sink);
    expect(error.code).toBe('recording-absent');
    expect(sink.blocks).toEqual([]);
  });
});

describe('a damaged recording gives what lies before the damage, and then the damage', () => {
  test('gzip cut short', async () => {
    const whole = gzipSync(good);
    const path = testFile('cut.csv.gz', whole.subarray(0, Math.floor(whole.length * 0.7)));
    const after = testFile('after.csv', 'machineId,time,exhaustTempC\nn,1000,200\n');
    const sink = keepingSink();
    const error = await failure([path, after], sink);
    expect(error).toBeInstanceOf(DamagedRecordingError);
    expect(error.toUserMessage()).toBe(
      `${path}: The compressed file ends in the middle; it was cut short. What could be decoded before the damage was read. Copy or export the file again to get the rest.`,
    );
    const content = contentOf(sink.blocks);
    expect(content.m?.timeMs.length).toBeGreaterThan(10_000);
    expect(content.m?.timeMs.length).toBeLessThan(20_000);
    expect(content.m?.timeMs).toEqual(Array.from(content.m?.timeMs ?? [], (_, i) => i * 1000));
    expect(content.n?.timeMs).toEqual([1000]);
    expect((error as DamagedRecordingError).report.samples).toBe((content.m?.timeMs.length ?? 0) + 1);
  });

  test('gzip with a flipped byte', async () => {
    const whole = gzipSync(good);
    const at = Math.floor(whole.length / 2);
    whole[at] = (whole[at] as number) ^ 0xff;
    const sink = keepingSink();
    const error = await failure([testFile('bad.csv.gz', whole)], sink);
    expect(error.code).toBe('recording-damaged');
    expect(error.message).toMatch(/^The compressed file is damaged \(.+\)\.$/);
    expect(contentOf(sink.blocks).m?.timeMs.length).toBeGreaterThan(1000);
  });

  test('a text line cut short is a reject with its place', async () => {
    const text = 'machineId,time,exhaustTempC\nm,1000,200\nm,2000';
    const path = testFile('a.csv', text);
    const sink = keepingSink();
    const report = await readInOrder([path], {}, { block: sink.block, restart: sink.restart });
    expect(report.samples).toBe(1);
    expect(report.rejects.examples).toEqual([
      { reason: 'bad-line', where: `${path}, line 3`, detail: 'expected 3 cells, found 2' },
    ]);
  });

  test('Parquet with its end torn off, and with a piece missing', async () => {
    const path = join(testFolder(), 'a.parquet');
    const writer = await openWriter('parquet', path);
    const timeMs = Float64Array.from({ length: 200_000 }, (_, i) => i * 1000);
    // Values that do not compress, so that the damage is in the second row group.
    const exhaustTempC = Float32Array.from(timeMs, (_, i) => ((Math.imul(i, 0x9e3779b1) >>> 8) % 8000) / 32);
    writer.block({ machineId: 'm', timeMs, channels: { exhaustTempC } });
    await writer.close();
    const whole = readFileSync(path);
    expect((await failure([testFile('torn', whole.subarray(0, whole.length - 20))])).code).toBe('recording-damaged');
    const half = Math.floor(whole.length * 0.8);
    const torn = Buffer.concat([whole.subarray(0, half), whole.subarray(half + 5000)]);
    const sink = keepingSink();
    const error = await failure([testFile('pages', torn)], sink);
    expect(error.code).toBe('recording-damaged');
    expect(contentOf(sink.blocks).m?.timeMs.length).toBeGreaterThan(10_000);
  });
});
