import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { fc, test } from '@fast-check/vitest';
import { openWriter, readInOrder } from '@warmbrick/recordings';
import { type ChannelName, type Column, createColumn, quantiseColumn, type SampleBlock } from '@warmbrick/signals';
import { describe, expect } from 'vitest';
import { collectInOrder, contentOf, keepingSink, testFile, testFolder } from './collected.js';

const names = [
  'engineSpeedRpm',
  'fuelRateLPerH',
  'exhaustTempC',
  'engineHours',
] as const satisfies readonly ChannelName[];

interface Row {
  readonly machineId: string;
  readonly timeMs: number;
  readonly values: readonly (number | null)[];
}

const row: fc.Arbitrary<Row> = fc.record({
  machineId: fc.constantFrom('dumper-1', 'dumper-2', 'Ålesund, "3"'),
  timeMs: fc.integer({ min: 0, max: 12 }).map((step) => 1_717_200_000_000 + step * 250),
  values: fc.tuple(
    ...names.map(() =>
      fc.option(fc.oneof(fc.double({ min: -5, max: 60, noNaN: true }), fc.constantFrom(0.025, 0.175, 1e300, -1e9))),
    ),
  ),
});

const formats = ['csv', 'csv.gz', 'ndjson', 'parquet'] as const;

/** Writes rows as they are, in the order given, values not yet rounded. */
async function writeRows(folder: string, name: string, rows: readonly Row[]): Promise<string> {
  const text = (quoted: string): string => `"${quoted.replaceAll('"', '""')}"`;
  const time = (ms: number): string => new Date(ms).toISOString();
  if (name.endsWith('ndjson')) {
    const lines = rows.map(({ machineId, timeMs, values }) =>
      JSON.stringify({ machineId, time: timeMs, ...Object.fromEntries(names.map((n, i) => [n, values[i]])) }),
    );
    return testFile(name, `${lines.join('\n')}\n`, folder);
  }
  const csv = `time,machineId,${names.join(',')}\n${rows.map((r) => [time(r.timeMs), text(r.machineId), ...r.values.map((v) => v ?? '')].join(',')).join('\n')}\n`;
  if (!name.endsWith('parquet')) return testFile(name, name.endsWith('gz') ? gzipSync(csv) : csv, folder);
  return writeRawParquet(folder, name, rows);
}

/** Parquet with 64-bit columns, as others write it. */
async function writeRawParquet(folder: string, name: string, rows: readonly Row[]): Promise<string> {
  const { DuckDBInstance } = await import('@duckdb/node-api');
  const instance = await DuckDBInstance.create(':memory:', { threads: '1' });
  const connection = await instance.connect();
  await connection.run(
    `CREATE TABLE t ("machineId" VARCHAR, "time" TIMESTAMP, ${names.map((n) => `${n} DOUBLE`).join(', ')})`,
  );
  const literal = (value: number | null): string => (value === null ? 'NULL' : `'${value}'::DOUBLE`);
  for (const r of rows) {
    const machine = `'${r.machineId.replaceAll("'", "''")}'`;
    await connection.run(
      `INSERT INTO t VALUES (${machine}, epoch_ms(${r.timeMs}), ${r.values.map(literal).join(', ')})`,
    );
  }
  const path = join(folder, name);
  await connection.run(`COPY t TO '${path}' (FORMAT parquet)`);
  connection.closeSync();
  instance.closeSync();
  return path;
}

/** What the rows come to by the rules, worked out the plain way. */
function expectedContent(rows: readonly Row[]) {
  const byKey = new Map<string, Row & { readonly merged: number[] }>();
  for (const r of rows) {
    const key = `${r.timeMs} ${r.machineId}`;
    const merged = byKey.get(key)?.merged ?? names.map(() => Number.NaN);
    names.forEach((name, i) => {
      const column = createColumn(name, 1);
      column[0] = r.values[i] ?? Number.NaN;
      quantiseColumn(name, column);
      const value = column[0] as number;
      if (!Number.isNaN(value) && !(value <= (merged[i] as number))) merged[i] = value;
    });
    byKey.set(key, { ...r, merged });
  }
  const sorted = [...byKey.values()].sort((a, b) => a.timeMs - b.timeMs);
  const blocks = sorted.map((r): SampleBlock => {
    const columns: Partial<Record<ChannelName, Column>> = {};
    names.forEach((name, i) => {
      columns[name] = createColumn(name, 1).fill(r.merged[i] as number);
    });
    return { machineId: r.machineId, timeMs: Float64Array.of(r.timeMs), channels: columns };
  });
  return contentOf(blocks);
}

describe('readInOrder', () => {
  test.prop(
    [
      fc.array(row, { minLength: 1, maxLength: 30 }),
      fc.array(fc.tuple(fc.constantFrom(...formats), fc.integer({ min: 0, max: 2 ** 31 })), {
        minLength: 1,
        maxLength: 4,
      }),
      fc.integer({ min: 1, max: 7 }),
    ],
    { numRuns: 30 },
  )(
    'gives the same samples for any order, repetition and spread of the rows over files and formats',
    async (rows, files, blockSamples) => {
      const folder = testFolder();
      const paths: string[] = [];
      for (const [index, [format, seed]] of files.entries()) {
        // Every row is in one file at least, some are in several, each file has an order of its own.
        const own = rows.filter((_, i) => i % files.length === index || ((i * 7919 + seed) >> 3) % 3 === 0);
        const shuffled = own.map((r, i) => [((i + 1) * seed) % 104_729, r] as const).sort((a, b) => a[0] - b[0]);
        if (own.length > 0)
          paths.push(
            await writeRows(
              folder,
              `${index}.${format}`,
              shuffled.map(([, r]) => r),
            ),
          );
      }
      const read = await collectInOrder(paths, { blockSamples });
      expect(read.content).toEqual(expectedContent(rows));
      for (const { timeMs } of read.blocks)
        expect(timeMs.every((time, i) => i === 0 || time > (timeMs[i - 1] as number))).toBe(true);
    },
    120_000,
  );

  test('passes files in order straight through, and lends its arrays only when allowed', async () => {
    const folder = testFolder();
    const rows = Array.from(
      { length: 50 },
      (_, i): Row => ({ machineId: 'm', timeMs: 1000 * i, values: [900 + i, null, 200, null] }),
    );
    const paths = [
      await writeRows(folder, '1.csv', rows.slice(0, 20)),
      await writeRows(folder, '2.parquet', rows.slice(20)),
    ];
    const kept = await collectInOrder(paths, { blockSamples: 8 });
    expect(kept.report.wasSorted).toBe(true);
    expect(kept.restarts).toBe(0);
    expect(kept.content.m?.values.engineSpeedRpm).toEqual(rows.map((r) => r.values[0]));
    const lent: number[] = [];
    const sink = keepingSink();
    await readInOrder(
      paths,
      { blockSamples: 8, lendBlocks: true },
      {
        block: (block) => void lent.push(...(block.channels.engineSpeedRpm as Column)),
        restart: sink.restart,
      },
    );
    expect(lent).toEqual(rows.map((r) => r.values[0]));
  });

  test('hands over sorted blocks whole, also when they may be lent', async () => {
    const folder = testFolder();
    const path = testFile('late.csv', 'machineId,time,exhaustTempC\nm,3000,330\nm,1000,310\nm,2000,320\n', folder);
    let lent: number[] = [];
    const block = (samples: SampleBlock) => void lent.push(...(samples.channels.exhaustTempC as Column));
    const restart = () => {
      lent = [];
    };
    await readInOrder([path], { lendBlocks: true }, { block, restart });
    expect(lent).toEqual([310, 320, 330]);
  });

  test('restarts once for a duplicate across files, and counts duplicates and conflicts', async () => {
    const folder = testFolder();
    const first = testFile(
      'a.csv',
      'machineId,time,exhaustTempC,engineSpeedRpm\nm,1000,300,\nm,2000,310,900\n',
      folder,
    );
    const second = testFile(
      'b.csv',
      'machineId,time,exhaustTempC,engineSpeedRpm\nm,1000,301,800\nm,2000,310,\nm,2000,309,\n',
      folder,
    );
    const read = await collectInOrder([first, second]);
    expect(read.restarts).toBe(1);
    expect(read.report).toMatchObject({ wasSorted: false, samples: 2, duplicates: 3, conflicts: 2 });
    expect(read.content.m?.values).toEqual({ exhaustTempC: [301, 310], engineSpeedRpm: [800, 900] });
  });

  test('notices a duplicate of one among more machines than are held at once', async () => {
    const machines = Array.from({ length: 9000 }, (_, m) => `m${m},1000,${200 + (m % 100)}`);
    const text = `machineId,time,exhaustTempC\n${machines.join('\n')}\nm17,1000,900\n`;
    const read = await collectInOrder([testFile('a.csv', text)]);
    expect(read.report).toMatchObject({ samples: 9000, wasSorted: false, duplicates: 1, conflicts: 1 });
    expect(read.content.m17?.values.exhaustTempC).toEqual([900]);
  });

  test('sorts a machine-interleaved recording of many machines', async () => {
    const lines: string[] = [];
    for (let second = 9; second >= 0; second--)
      for (let m = 0; m < 300; m++) lines.push(`m${m},${second * 1000},${200 + second}`);
    const read = await collectInOrder([testFile('a.csv', `machineId,time,exhaustTempC\n${lines.join('\n')}\n`)]);
    expect(Object.keys(read.content)).toHaveLength(300);
    expect(read.content.m7?.values.exhaustTempC).toEqual([200, 201, 202, 203, 204, 205, 206, 207, 208, 209]);
    expect(read.blocks.map((block) => block.machineId)).toEqual(
      [...read.blocks.map((block) => block.machineId)].sort(),
    );
  });
});

describe('writing and reading back', () => {
  test.prop([fc.array(row, { minLength: 1, maxLength: 20 })], { numRuns: 15 })(
    'gives the same samples bit for bit in every format',
    async (rows) => {
      const folder = testFolder();
      const source = await collectInOrder([await writeRows(folder, 'in.csv', rows)]);
      for (const [format, options] of [
        ['csv', {}],
        ['csv', { channels: names }],
        ['ndjson', {}],
        ['parquet', {}],
      ] as const) {
        const path = join(folder, `out.${format}`);
        const writer = await openWriter(format, path, options);
        for (const block of source.blocks) writer.block(block);
        expect(await writer.close()).toBe(source.report.samples);
        if (
          Object.keys(source.content).some(
            (machineId) => Object.keys(source.content[machineId]?.values ?? {}).length > 0,
          )
        ) {
          expect((await collectInOrder([path])).content).toEqual(source.content);
        }
      }
    },
    120_000,
  );
});
