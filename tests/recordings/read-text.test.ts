import { gzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { collectInOrder, collectUnordered, testFile } from './collected.js';

const header = 'machineId,time,engineSpeedRpm,exhaustTempC\n';
const rows = 'loader-1,2024-06-01T06:00:00.000Z,950,210.5\nloader-1,2024-06-01T06:00:01.000Z,,211\n';
const sixOClockMs = Date.UTC(2024, 5, 1, 6);
const expected = {
  'loader-1': {
    timeMs: [sixOClockMs, sixOClockMs + 1000],
    values: { engineSpeedRpm: [950, null], exhaustTempC: [210.5, 211] },
  },
};

describe('CSV of named channels', () => {
  test('is read', async () => {
    const read = await collectInOrder([testFile('a.csv', header + rows)]);
    expect(read.content).toEqual(expected);
    expect(read.report).toMatchObject({ formats: ['csv'], samples: 2, wasSorted: true, duplicates: 0, conflicts: 0 });
  });

  test.each([
    ['a byte order mark', `\uFEFF${header}${rows}`],
    ['CRLF', (header + rows).replaceAll('\n', '\r\n')],
    ['semicolons', (header + rows).replaceAll(',', ';')],
    ['tabs', (header + rows).replaceAll(',', '\t')],
    ['quotes', (header + rows).replaceAll(/[^,\n]+/g, '"$&"')],
    ['no line end at the end', (header + rows).trimEnd()],
    ['blank lines', `${header}\n\n${rows}\n`],
    ['NaN and null cells', header + rows.replace(',,', ',NaN,').replace('210.5', ' 210.5 ')],
    [
      'another column order',
      'exhaustTempC,time,machineId,engineSpeedRpm\n210.5,2024-06-01T06:00:00.000Z,loader-1,950\n211,2024-06-01T06:00:01.000Z,loader-1,null\n',
    ],
    [
      'offsets',
      header + rows.replace('06:00:00.000Z', '08:00:00.000+02:00').replace('06:00:01.000Z', '01:30:01-04:30'),
    ],
    [
      'epoch milliseconds',
      header + rows.replaceAll(/2024[^,]+:0(\d)\.000Z/g, (_, second) => String(sixOClockMs + Number(second) * 1000)),
    ],
  ])('is read with %s', async (_, text) => {
    expect((await collectInOrder([testFile('a.csv', text)])).content).toEqual(expected);
  });

  test('is told by its content and read from gzip, whatever its name', async () => {
    expect((await collectInOrder([testFile('a.parquet', gzipSync(header + rows))])).content).toEqual(expected);
  });

  test('without a machine column takes the machine of the options, else the name of the file', async () => {
    const text = 'time;exhaustTempC\n2024-06-01T06:00:00Z;210\n';
    const path = testFile('crusher-7.csv', text);
    expect(Object.keys((await collectInOrder([path])).content)).toEqual(['crusher-7']);
    expect(Object.keys((await collectInOrder([path], { machineId: 'north' })).content)).toEqual(['north']);
    expect(Object.keys((await collectInOrder([testFile('grader-2.csv.gz', gzipSync(text))])).content)).toEqual([
      'grader-2',
    ]);
  });

  test('keeps only the machine and the channels that are asked for', async () => {
    const other = rows.replaceAll('loader-1', 'loader-2');
    const path = testFile('a.csv', header + rows + other);
    const read = await collectInOrder([path], { onlyMachineId: 'loader-2', channels: ['exhaustTempC'] });
    expect(read.content).toEqual({
      'loader-2': { timeMs: [sixOClockMs, sixOClockMs + 1000], values: { exhaustTempC: [210.5, 211] } },
    });
  });

  test('names an unknown column once in a warning', async () => {
    const text = `${header.trimEnd()},cabTempC\n${rows.replaceAll('\n', ',21\n')}`;
    const read = await collectInOrder([testFile('a.csv', text)]);
    expect(read.content).toEqual(expected);
    expect(read.report.warnings).toEqual([
      expect.stringMatching(/a\.csv: "cabTempC" names no known channel and is not read\.$/),
    ]);
  });

  test('rounds to the resolution and counts what is implausible', async () => {
    const text = 'machineId,time,engineSpeedRpm,coolantTempC\nm,1000,950.07,400\nm,2000,1e300,84.4\n';
    const read = await collectInOrder([testFile('a.csv', text)]);
    expect(read.content.m?.values).toEqual({ engineSpeedRpm: [950.125, null], coolantTempC: [null, 84] });
    expect(read.report.unusable).toEqual({
      m: { engineSpeedRpm: { implausible: 1 }, coolantTempC: { implausible: 1 } },
    });
  });

  test('rejects bad lines with their place and goes on', async () => {
    const bad = [
      'loader-1,2024-06-01T06:00:02Z,950',
      'loader-1,2024-06-01 06:00:02,950,210',
      'loader-1,yesterday,950,210',
      'loader-1,1969-12-31T23:59:59Z,950,210',
      'loader-1,2100-01-01T00:00:00.001Z,950,210',
      ',2024-06-01T06:00:02Z,950,210',
      '"loader-1,2024-06-01T06:00:02Z,950,210',
      'loader-1,2024-06-01T06:00:02Z,fast,212',
    ];
    const read = await collectInOrder([testFile('a.csv', `${header}${rows}${bad.join('\n')}\n`)]);
    expect(read.report.samples).toBe(3);
    expect(read.content['loader-1']?.values).toEqual({
      engineSpeedRpm: [950, null, null],
      exhaustTempC: [210.5, 211, 212],
    });
    expect(read.report.rejects.count).toBe(8);
    const places = read.report.rejects.examples.map(({ reason, where }) => [
      reason,
      where.replace(/^.*a\.csv/, 'a.csv'),
    ]);
    expect(places).toEqual([
      ['bad-line', 'a.csv, line 4'],
      ['bad-time', 'a.csv, line 5'],
      ['bad-time', 'a.csv, line 6'],
      ['bad-time', 'a.csv, line 7'],
      ['bad-time', 'a.csv, line 8'],
      ['bad-machine', 'a.csv, line 9'],
      ['bad-line', 'a.csv, line 10'],
      ['bad-value', 'a.csv, line 11'],
    ]);
    expect(read.report.unusable).toEqual({ 'loader-1': { engineSpeedRpm: { 'not-a-number': 1 } } });
  });

  test('cuts blocks at the size asked for', async () => {
    const many = Array.from({ length: 10 }, (_, i) => `loader-1,${i},950,${i}\n`).join('');
    const read = await collectInOrder([testFile('a.csv', header + many)], { blockSamples: 4 });
    expect(read.blocks.map((block) => block.timeMs.length)).toEqual([4, 4, 2]);
  });
});

describe('NDJSON of named channels', () => {
  const lines = [
    { machineId: 'loader-1', time: '2024-06-01T06:00:00.000Z', engineSpeedRpm: 950, exhaustTempC: 210.5 },
    { exhaustTempC: 211, time: sixOClockMs + 1000, engineSpeedRpm: null, machineId: 'loader-1' },
  ].map((line) => `${JSON.stringify(line)}\n`);

  test('is read', async () => {
    const read = await collectInOrder([testFile('a', lines.join(''))]);
    expect(read.content).toEqual(expected);
    expect(read.report.formats).toEqual(['ndjson']);
  });

  test('rejects bad lines with their place and goes on', async () => {
    const bad = [
      '{"time":',
      '[1]',
      '{"time":true,"exhaustTempC":3}',
      '{"machineId":"","time":5}',
      '{"time":5,"speed":3}',
      '{"time":3000,"exhaustTempC":[3]}',
    ];
    const read = await collectInOrder([testFile('x.ndjson', [...lines, ...bad].join('\n').replaceAll('\n\n', '\n'))]);
    expect(read.report.rejects.byReason).toEqual({
      'bad-line': 2,
      'bad-time': 1,
      'bad-machine': 1,
      'no-channels': 1,
      'bad-value': 1,
    });
    expect(read.report.rejects.examples.map(({ where }) => Number(where.split(' ').at(-1)))).toEqual([
      3, 4, 5, 6, 7, 8,
    ]);
    expect(read.report.warnings).toHaveLength(1);
  });
});

describe('readUnordered', () => {
  test('gives blocks that rise, in the order of the rows, and never restarts', async () => {
    const text = `${header}m,5000,950,1\nm,6000,950,2\nm,3000,950,3\nm,3000,950,4\nk,1000,950,5\n`;
    const read = await collectUnordered([testFile('a.csv', text)]);
    const times = read.blocks.filter((block) => block.machineId === 'm').map((block) => [...block.timeMs]);
    expect(times).toEqual([[5000, 6000], [3000], [3000]]);
    expect(read.restarts).toBe(0);
  });
});

describe('fillS', () => {
  test('carries a value as long as asked, across blocks and files, after ordering', async () => {
    const later = testFile('b.csv', `${header}m,4000,,\nm,6000,,\nm,6001,,\n`);
    const earlier = testFile('a.csv', `${header}m,1000,900,\nm,2000,,300\n`);
    for (const paths of [
      [earlier, later],
      [later, earlier],
    ]) {
      const read = await collectInOrder(paths, { fillS: 4, blockSamples: 2 });
      expect(read.content.m?.values).toEqual({
        engineSpeedRpm: [900, 900, 900, null, null],
        exhaustTempC: [null, 300, 300, 300, null],
      });
    }
  });
});
