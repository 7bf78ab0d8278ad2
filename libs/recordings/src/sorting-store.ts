/** Sorts more samples than fit into memory: everything into a temporary database, and back in order. */

import type { DuckDBAppender, DuckDBConnection, DuckDBDataChunk } from '@duckdb/node-api';
import {
  type ChannelName,
  type Column,
  channelNames,
  type FaultReport,
  isWideChannel,
  type SampleBlock,
} from '@warmbrick/signals';
import { doublesOf, floatsOf, integersOf } from './chunk-columns.js';
import { type Database, streamChunks } from './duckdb.js';
import { type FaultCursor, openFaultCursor } from './fault-cursor.js';
import type { Outlet, ReadState } from './read-state.js';
import { createShelves, type SampleShelves, setValue } from './sample-shelves.js';
import { createStage, sampleColumnsSql } from './sample-stage.js';

export interface SortingStore extends Outlet {
  /** Hands everything back, by machine and time; equal times merged, faults before the block that reaches them. */
  deliver(state: ReadState, outlet: Outlet): Promise<void>;
}

/** Creates the tables of the store in an empty database; `channels` are all that may come. */
export async function createSortingStore(database: Database, channels: readonly ChannelName[]): Promise<SortingStore> {
  const { connection } = database;
  await connection.run(`CREATE TABLE samples (${sampleColumnsSql(channels)})`);
  await connection.run('CREATE TABLE faults (machine INTEGER, timeMs DOUBLE, body VARCHAR)');
  await connection.run('CREATE TABLE machines (machine INTEGER, rank INTEGER)');
  const samples = await connection.createAppender('samples');
  const faults = await connection.createAppender('faults');
  const stage = createStage(samples, channels);
  const codes = new Map<string, number>();
  const codeOf = (machineId: string): number => {
    const code = codes.get(machineId) ?? codes.size;
    codes.set(machineId, code);
    return code;
  };
  return {
    block: (block) => stage.add(codeOf(block.machineId), block),
    faults(reports) {
      for (const report of reports) appendFault(faults, codeOf(report.machineId), report);
    },
    async deliver(state, outlet) {
      stage.flush();
      samples.closeSync();
      faults.closeSync();
      const ranked = [...codes.keys()].sort();
      const machines = await connection.createAppender('machines');
      ranked.forEach((machineId, rank) => {
        machines.appendInteger(codes.get(machineId) as number);
        machines.appendInteger(rank);
        machines.endRow();
      });
      machines.closeSync();
      const cursor = await openFaultCursor(await database.connect(), outlet);
      const seen = stage.seen();
      const channelIndexes = seen.map((name) => channelNames.indexOf(name));
      await streamSorted(connection, { ranked, seen, channelIndexes, rows: stage.rows(), state, outlet, cursor });
      await cursor.handOverUntil(ranked.length, Number.POSITIVE_INFINITY);
    },
  };
}

function appendFault(appender: DuckDBAppender, code: number, report: FaultReport): void {
  appender.appendInteger(code);
  appender.appendDouble(report.timeMs);
  appender.appendVarchar(JSON.stringify(report));
  appender.endRow();
}

interface Delivery {
  /** Machine by rank. */
  readonly ranked: readonly string[];
  readonly seen: readonly ChannelName[];
  /** Their indexes in the catalogue. */
  readonly channelIndexes: readonly number[];
  /** Rows that went in. */
  readonly rows: number;
  readonly state: ReadState;
  readonly outlet: Outlet;
  readonly cursor: FaultCursor;
}

async function streamSorted(connection: DuckDBConnection, delivery: Delivery): Promise<void> {
  const { ranked, seen, state, outlet, cursor } = delivery;
  const rankOf = new Map(ranked.map((machineId, rank) => [machineId, rank]));
  const finished: SampleBlock[] = [];
  const shelves = createShelves(state, { block: (block) => finished.push(block), faults: () => undefined }, 'merge');
  const handOver = async (): Promise<void> => {
    for (const block of finished.splice(0)) {
      await cursor.handOverUntil(rankOf.get(block.machineId) as number, block.timeMs.at(-1) as number);
      outlet.block(block);
    }
  };
  const sql = `SELECT ${['rank', 'timeMs', ...seen].join(', ')} FROM samples JOIN machines USING (machine) ORDER BY rank, timeMs`;
  for await (const chunk of streamChunks(connection, sql, delivery.rows)) {
    takeSorted(chunk, delivery, shelves);
    await handOver();
  }
  shelves.flush();
  await handOver();
}

function takeSorted(chunk: DuckDBDataChunk, delivery: Delivery, shelves: SampleShelves): void {
  const count = chunk.rowCount;
  const ranks = integersOf(chunk, 0, count);
  const timeMs = doublesOf(chunk, 1, count);
  const columns = delivery.seen.map((name, i) => {
    const isWide = isWideChannel(name);
    return isWide ? doublesOf(chunk, 2 + i, count) : floatsOf(chunk, 2 + i, count);
  });
  let from = 0;
  while (from < ranks.length) {
    // A run is as long as machine and strict order last; the sample after it is a duplicate or of another machine.
    let to = from + 1;
    while (to < ranks.length && ranks[to] === ranks[from] && (timeMs[to] as number) > (timeMs[to - 1] as number)) to++;
    const machineId = delivery.ranked[ranks[from] as number] as string;
    // The first sample may repeat the one before it, so it goes alone.
    const shelf = shelves.begin(machineId, timeMs[from] as number);
    for (let c = 0; c < columns.length; c++) {
      const value = (columns[c] as Column)[from] as number;
      setValue(shelf, delivery.channelIndexes[c] as number, value, delivery.state);
    }
    if (to > from + 1) {
      shelves.append(machineId, { timeMs, columns, channelIndexes: delivery.channelIndexes, from: from + 1, to });
    }
    from = to;
  }
}
