import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { builtInThresholds, type ResidencyRow } from '@warmbrick/analysis';
import { openWriter } from '@warmbrick/recordings';
import { defaultProfile } from '@warmbrick/signals';
import { createSimulation, quarryFleet } from '@warmbrick/simulator';
import { replayOnThreads } from '@warmbrick/workbench';
import { afterAll, describe, expect, test } from 'vitest';

const folder = mkdtempSync(join(tmpdir(), 'warmbrick-threads-'));
afterAll(() => rmSync(folder, { recursive: true }));

const startMs = Date.UTC(2026, 2, 2);

/** A few machines, each for six hours, one after the other; with `isMixed` hour by hour in turns. */
async function fleetFile(name: string, isMixed: boolean): Promise<string> {
  const path = join(folder, name);
  const writer = await openWriter('parquet', path);
  const machines = quarryFleet.slice(0, 4).map((machine, k) => createSimulation(machine, { seed: k + 1, startMs }));
  const hours = Array.from({ length: 6 }, (_, hour) => startMs + (hour + 1) * 3_600_000 - 1);
  const steps = isMixed
    ? hours.flatMap((toMs) => machines.map((machine) => ({ machine, toMs })))
    : machines.flatMap((machine) => hours.map((toMs) => ({ machine, toMs })));
  for (const { machine, toMs } of steps) {
    const block = machine.advanceTo(toMs);
    if (block !== null) writer.block(block);
  }
  await writer.close();
  return path;
}

async function replayed(path: string, threads: number) {
  const rows: [string, ResidencyRow][] = [];
  let progress = 0;
  const input = {
    paths: [path],
    profiles: {
      profileOf: (machineId: string) => ({ ...defaultProfile, baseIdleRpm: machineId.endsWith('1') ? 900 : 950 }),
    },
    thresholds: builtInThresholds,
    reading: {},
    onProgress: (samples: number) => {
      progress = samples;
    },
    onRow: (machineId: string, row: ResidencyRow) => rows.push([machineId, row]),
  };
  const { document, damage } = await replayOnThreads(input, threads, 10_000);
  return { text: JSON.stringify({ document, damage, rows: lastRows(rows) }), progress, document };
}

/** A row seen again replaces the earlier one. */
function lastRows(rows: readonly [string, ResidencyRow][]): unknown {
  return [...new Map(rows.map(([id, row]) => [`${id} ${row.startedMs}`, row]))].sort(([a], [b]) => (a < b ? -1 : 1));
}

describe('replay on several threads', () => {
  test('takes a recording with a row that is rejected as a whole', async () => {
    const parquet = join(folder, 'rejects.parquet');
    const instance = await DuckDBInstance.create(':memory:', { threads: '1' });
    const connection = await instance.connect();
    await connection.run(
      `COPY (SELECT 'm' || i // 12000 AS "machineId", CASE WHEN i = 20000 THEN NULL ELSE i * 1000 END AS "time",
        900 AS "engineSpeedRpm" FROM range(24000) t(i)) TO '${parquet}' (FORMAT parquet)`,
    );
    connection.closeSync();
    instance.closeSync();
    const one = await replayed(parquet, 1);
    expect(one.document.rejects).toMatchObject({ count: 1, byReason: { 'bad-time': 1 } });
    expect((await replayed(parquet, 2)).text).toBe(one.text);
  });

  test.each([
    ['machine after machine', false],
    ['mixed machines', true],
  ])('gives the same as on one, byte for byte: %s', async (name, isMixed) => {
    const path = await fleetFile(`${name.replaceAll(' ', '-')}.parquet`, isMixed);
    const one = await replayed(path, 1);
    expect(one.document.machines).toHaveLength(4);
    expect(one.document.machines.some(({ findings }) => findings.length > 0)).toBe(true);
    for (const threads of [2, 3]) {
      const several = await replayed(path, threads);
      expect(several.text).toBe(one.text);
      expect(several.progress).toBe(one.document.reading.samples);
    }
  });
});
