/** A file of a whole fleet: some simulated machines, many times over under other names and on other days. */

import { existsSync, mkdirSync, renameSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { type BenchFile, benchFile } from './bench-file.js';

/** Machines that are simulated, and days of each: their engines off part of the day, as many samples as 30 whole days have. */
const simulated = 4;
const days = 38;

/**
 * Writes the file unless it is there already; the same number of machines gives the same file.
 *
 * Shapes: machine after machine, about 2.6 million samples at 1 Hz each; in the folder for temporary files.
 */
export async function fleetFile(machines: number): Promise<BenchFile> {
  const folder = join(tmpdir(), 'warmbrick-bench');
  const path = join(folder, `fleet-${machines}-of-${simulated}x${days}-v1.parquet`);
  if (!existsSync(path)) {
    const base = await benchFile(simulated, days);
    mkdirSync(folder, { recursive: true });
    process.stderr.write(`writing ${machines} machines into ${path}\n`);
    await multiply(base.path, `${path}.part`, machines);
    renameSync(`${path}.part`, path);
  }
  return { path, bytes: statSync(path).size };
}

async function multiply(from: string, to: string, machines: number): Promise<void> {
  const instance = await DuckDBInstance.create(':memory:', { memory_limit: '4GB' });
  const connection = await instance.connect();
  try {
    const found = await connection.runAndReadAll(`SELECT DISTINCT machineId FROM read_parquet('${from}') ORDER BY 1`);
    const names = found.getRows().map(([name]) => String(name));
    const copies = Array.from({ length: machines }, (_, k) => {
      const id = `${names[k % names.length]}-${String(k).padStart(3, '0')}`;
      const shift = `INTERVAL ${Math.floor(k / names.length)} DAY`;
      return `SELECT * REPLACE ('${id}' AS "machineId", "time" + ${shift} AS "time") FROM read_parquet('${from}')
        WHERE "machineId" = '${names[k % names.length]}'`;
    });
    await connection.run(
      `COPY (${copies.join(' UNION ALL ')}) TO '${to}' (FORMAT parquet, COMPRESSION zstd, PARQUET_VERSION v2)`,
    );
  } catch (error) {
    rmSync(to, { force: true });
    throw error;
  } finally {
    connection.closeSync();
    instance.closeSync();
  }
}
