/** Writes fault reports as a table. */

import type { FaultReport } from '@warmbrick/signals';
import { type FaultRow, faultColumns, faultCsv, faultNdjson, faultRows } from './fault-table.js';
import type { WriteFormat } from './open-writer.js';
import { openSpool } from './table-spool.js';
import { openTextOutput } from './text-output.js';

export interface FaultWriter {
  /** Takes reports. Can stand as the `faults` of a sink. */
  faults(reports: readonly FaultReport[]): void;
  /** Finishes the table and gives the number of its rows. */
  close(): Promise<number>;
}

/**
 * Opens a table of fault codes for writing: a row a code of each report, and one without a code where there was none.
 *
 * Shapes: `machineId,time,sourceAddress,kind,spn,fmi,occurrenceCount,conversionMethod,lamps`.
 * Errors: `output-unwritable`.
 */
export async function openFaultWriter(format: WriteFormat, path: string): Promise<FaultWriter> {
  if (format === 'parquet') return openParquetFaultWriter(path);
  const output = openTextOutput(path);
  const toText = format === 'csv' ? faultCsv : faultNdjson;
  let count = 0;
  if (format === 'csv') output.write(`${faultColumns.join(',')}\n`);
  return {
    faults(reports) {
      const rows = reports.flatMap(faultRows);
      output.write(toText(rows));
      count += rows.length;
    },
    async close() {
      output.close();
      return count;
    },
  };
}

async function openParquetFaultWriter(path: string): Promise<FaultWriter> {
  const spool = await openSpool(path);
  const { connection } = spool.database;
  await connection.run(
    `CREATE TABLE faults ("machineId" VARCHAR, timeMs DOUBLE, "sourceAddress" INTEGER, kind VARCHAR, spn INTEGER,
       fmi INTEGER, "occurrenceCount" INTEGER, "conversionMethod" INTEGER, lamps VARCHAR)`,
  );
  const appender = await connection.createAppender('faults');
  let count = 0;
  const append = (row: FaultRow): void => {
    for (const name of faultColumns) {
      const value = row[name];
      if (value === null) appender.appendNull();
      else if (name === 'time') appender.appendDouble(Date.parse(String(value)));
      else if (typeof value === 'number') appender.appendInteger(value);
      else appender.appendVarchar(value);
    }
    appender.endRow();
    count++;
  };
  return {
    faults(reports) {
      for (const report of reports) for (const row of faultRows(report)) append(row);
    },
    async close() {
      try {
        appender.closeSync();
        const time = 'CAST(epoch_ms(CAST(timeMs AS BIGINT)) AS TIMESTAMP_MS) AS "time"';
        await spool.writeParquet(`SELECT "machineId", ${time}, * EXCLUDE ("machineId", timeMs) FROM faults`);
      } finally {
        await spool.close();
      }
      return count;
    },
  };
}
