/** Walks fault reports in order beside the samples they belong to. */

import type { DuckDBConnection, DuckDBDataChunk } from '@duckdb/node-api';
import type { FaultReport } from '@warmbrick/signals';
import { streamChunks } from './duckdb.js';
import type { Outlet } from './read-state.js';

export interface FaultCursor {
  /** Hands over every report of an earlier machine, and those of this machine up to a time. */
  handOverUntil(rank: number, timeMs: number): Promise<void>;
}

interface RankedReport {
  readonly rank: number;
  readonly report: FaultReport;
}

/** Opens the reports of table `faults`, by rank in table `machines` and time, each different one once. */
export async function openFaultCursor(connection: DuckDBConnection, outlet: Outlet): Promise<FaultCursor> {
  const distinct = 'SELECT DISTINCT rank, timeMs, body FROM faults JOIN machines USING (machine)';
  const counted = await connection.runAndReadAll(`SELECT count(*) FROM (${distinct})`);
  const expected = Number(counted.getRows()[0]?.[0]);
  const chunks = streamChunks(connection, `${distinct} ORDER BY rank, timeMs, body`, expected);
  let rows: RankedReport[] = [];
  let at = 0;
  const peek = async (): Promise<RankedReport | undefined> => {
    if (at >= rows.length) {
      rows = await nextRows(chunks);
      at = 0;
    }
    return rows[at];
  };
  return {
    async handOverUntil(rank, timeMs) {
      const due: FaultReport[] = [];
      for (let next = await peek(); next !== undefined; next = await peek()) {
        if (next.rank > rank || (next.rank === rank && next.report.timeMs > timeMs)) break;
        due.push(next.report);
        at++;
      }
      if (due.length > 0) outlet.faults(due);
    },
  };
}

async function nextRows(chunks: AsyncGenerator<DuckDBDataChunk>): Promise<RankedReport[]> {
  const next = await chunks.next();
  if (next.done === true) return [];
  return next.value.getRows().map(([rank, , body]) => ({
    rank: Number(rank),
    report: JSON.parse(String(body)) as FaultReport,
  }));
}
