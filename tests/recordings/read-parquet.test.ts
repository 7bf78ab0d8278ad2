import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { DuckDBInstance } from '@duckdb/node-api';
import { partsOf } from '@warmbrick/recordings';
import { describe, expect, test } from 'vitest';
import { collectInOrder, collectUnordered, testFile, testFolder } from './collected.js';

async function parquet(query: string, options = ''): Promise<string> {
  const path = join(testFolder(), 'recording.parquet');
  const instance = await DuckDBInstance.create(':memory:', { threads: '1' });
  const connection = await instance.connect();
  await connection.run(`COPY (${query}) TO '${path}' (FORMAT parquet${options})`);
  connection.closeSync();
  instance.closeSync();
  return path;
}

const sixOClockMs = Date.UTC(2024, 5, 1, 6);
const twoRows = (time: string) =>
  `SELECT 'loader-1' AS "machineId", ${time} AS "time", 950.07 AS "engineSpeedRpm" FROM range(2) t(i)`;

describe('Parquet of named channels', () => {
  test.each([
    ['TIMESTAMP', `TIMESTAMP '2024-06-01 06:00:00' + to_seconds(i)`],
    ['TIMESTAMP with zone', `make_timestamptz(${sixOClockMs * 1000} + i * 1000000)`],
    ['TIMESTAMP of nanoseconds', `(TIMESTAMP '2024-06-01 06:00:00' + to_seconds(i))::TIMESTAMP_NS`],
    ['TIMESTAMP of milliseconds', `(TIMESTAMP '2024-06-01 06:00:00' + to_seconds(i))::TIMESTAMP_MS`],
    ['BIGINT', `${sixOClockMs} + i * 1000`],
    ['DOUBLE', `(${sixOClockMs} + i * 1000 + 0.75)::DOUBLE`],
    ['text', `'2024-06-01T08:00:0' || i || '.0009+02:00'`],
  ])('reads times as %s', async (_, time) => {
    const read = await collectInOrder([await parquet(twoRows(time))]);
    expect(read.content).toEqual({
      'loader-1': { timeMs: [sixOClockMs, sixOClockMs + 1000], values: { engineSpeedRpm: [950.125, 950.125] } },
    });
  });

  test.each(['FLOAT', 'DOUBLE', 'INTEGER', 'BIGINT', 'DECIMAL(9,3)', 'VARCHAR'])('reads values as %s', async (type) => {
    const read = await collectInOrder([
      await parquet(
        `SELECT i * 1000 AS "time", CASE WHEN i < 2 THEN i * 7 END::${type} AS "exhaustTempC", i::${type} AS "engineHours" FROM range(3) t(i)`,
      ),
    ]);
    expect(read.content.recording?.values).toEqual({ exhaustTempC: [0, 7, null], engineHours: [0, 1, 2] });
  });

  test('keeps the digits of a counter that a 32-bit float would lose', async () => {
    const read = await collectInOrder([await parquet(`SELECT 0 AS "time", 1234567.85::DOUBLE AS "engineHours"`)]);
    expect(read.content.recording?.values.engineHours?.[0]).toBeCloseTo(1_234_567.85, 6);
  });

  test('counts what does not fit as implausible, and what is missing not at all', async () => {
    const read = await collectInOrder([
      await parquet(
        `SELECT i AS "time", [1e300, NULL, 'NaN'::DOUBLE, 'inf'::DOUBLE, 9000, 200][i + 1] AS "exhaustTempC" FROM range(6) t(i)`,
      ),
    ]);
    expect(read.content.recording?.values.exhaustTempC).toEqual([null, null, null, null, null, 200]);
    expect(read.report.unusable).toEqual({ recording: { exhaustTempC: { implausible: 3 } } });
  });

  test('rejects rows without a usable time or machine', async () => {
    const read = await collectInOrder([
      await parquet(
        `SELECT CASE WHEN i = 3 THEN NULL ELSE 'm' || i % 2 END AS "machineId", CASE WHEN i = 5 THEN NULL WHEN i = 6 THEN -1 ELSE i * 1000 END AS "time", 200 AS "exhaustTempC" FROM range(9) t(i)`,
      ),
    ]);
    expect(read.report.rejects.byReason).toEqual({ 'bad-machine': 1, 'bad-time': 2 });
    expect(read.report.rejects.examples.map(({ where }) => where.replace(/^.*, /, ''))).toEqual([
      'row 4',
      'row 6',
      'row 7',
    ]);
    expect(read.content.m0?.timeMs).toEqual([0, 2000, 4000, 8000]);
    expect(read.content.m1?.timeMs).toEqual([1000, 7000]);
  });

  // Machines that lie one after the other are told by the row, others by a code a row; same result.
  test.each([
    ['by machine', 'm, s'],
    ['by time', 's, m'],
  ])('reads machines laid out %s', async (_, order) => {
    const path = await parquet(
      `SELECT 'dozer ''' || m AS "machineId", s * 1000 AS "time", (s + m)::FLOAT AS "exhaustTempC" FROM range(3) t(m), range(5000) u(s) ORDER BY ${order}`,
      ', ROW_GROUP_SIZE 2048',
    );
    const read = await collectInOrder([path], { blockSamples: 1000 });
    expect(read.report).toMatchObject({ samples: 15_000, wasSorted: true });
    for (const m of [0, 1, 2]) {
      const own = read.content[`dozer '${m}`];
      expect(own?.timeMs).toEqual(Array.from({ length: 5000 }, (_, s) => s * 1000));
      expect(own?.values.exhaustTempC?.slice(0, 1000)).toEqual(Array.from({ length: 1000 }, (_, s) => s + m));
    }
    const one = await collectUnordered([path], { onlyMachineId: "dozer '1" });
    expect(one.content).toEqual({ "dozer '1": read.content["dozer '1"] });
    const parts = await partsOf([path], { rowsEach: 6000 });
    if (order === 's, m') {
      expect(parts).toBeNull();
      return;
    }
    const machines = ["dozer '0", "dozer '1", "dozer '2"].map((machineId) => ({ machineId, rows: 5000 }));
    expect(parts).toEqual([
      { firstRow: 0, rows: 10_000, machines: machines.slice(0, 2) },
      { firstRow: 10_000, rows: 5000, machines: machines.slice(2) },
    ]);
    const contents = [];
    for (const part of parts ?? []) contents.push((await collectInOrder([path], { part, blockSamples: 1000 })).content);
    expect(Object.assign({}, ...contents)).toEqual(read.content);
  });

  test('names the row of the file that it rejects, also when it reads a part of it', async () => {
    const path = await parquet(
      `SELECT 'm' || i // 5 AS "machineId", CASE WHEN i = 7 THEN NULL ELSE i * 1000 END AS "time", 200 AS "exhaustTempC" FROM range(12) t(i)`,
    );
    const read = await collectInOrder([path], { onlyMachineId: 'm1' });
    expect(read.report).toMatchObject({ samples: 4, rejects: { count: 1, byReason: { 'bad-time': 1 } } });
    expect(read.report.rejects.examples[0]?.where).toMatch(/, row 8$/);
  });

  test('is read from gzip', async () => {
    const plain = await parquet(twoRows('i'));
    const read = await collectInOrder([testFile('recording.bin', gzipSync(readFileSync(plain)))]);
    expect(read.content).toEqual((await collectInOrder([plain])).content);
  });

  test('reads only the columns that are asked for', async () => {
    const path = await parquet(
      `SELECT i AS "time", 100 AS "exhaustTempC", 900 AS "engineSpeedRpm", 3 AS "gear" FROM range(3) t(i)`,
    );
    const read = await collectInOrder([path], { channels: ['engineSpeedRpm'], machineId: 'm' });
    expect(read.content).toEqual({ m: { timeMs: [0, 1, 2], values: { engineSpeedRpm: [900, 900, 900] } } });
    expect(read.report.warnings).toHaveLength(1);
  });
});
