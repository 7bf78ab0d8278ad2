/** Reads recordings and lays their content out so that two readings can be compared bit for bit. */

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type ReadOptions, type ReadReport, readInOrder, readUnordered } from '@warmbrick/recordings';
import { blockChannels, type FaultReport, type SampleBlock } from '@warmbrick/signals';
import { onTestFinished } from 'vitest';

export interface Collected {
  readonly report: ReadReport;
  readonly blocks: SampleBlock[];
  readonly faults: FaultReport[];
  readonly restarts: number;
  /** By machine: times, and values by channel with null for no value. */
  readonly content: Content;
}

export type Content = Record<string, { timeMs: number[]; values: Record<string, (number | null)[]> }>;

/** A folder for the test's files, gone when it finishes. */
export function testFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'warmbrick-test-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

/** Writes one file into a folder of the test and gives its path. */
export function testFile(name: string, content: string | Uint8Array, folder = testFolder()): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

export async function collectInOrder(paths: readonly string[], options: ReadOptions = {}): Promise<Collected> {
  return collect((sink) => readInOrder(paths, options, sink));
}

export async function collectUnordered(paths: readonly string[], options: ReadOptions = {}): Promise<Collected> {
  return collect((sink) => readUnordered(paths, options, sink));
}

/** A sink that keeps everything, also when the reading fails in the end. */
export function keepingSink() {
  const blocks: SampleBlock[] = [];
  const faults: FaultReport[] = [];
  let restarts = 0;
  return {
    blocks,
    faults,
    restarts: () => restarts,
    block: (block: SampleBlock) => void blocks.push(block),
    faultsSink: (reports: readonly FaultReport[]) => void faults.push(...reports),
    restart() {
      restarts++;
      blocks.length = 0;
      faults.length = 0;
    },
  };
}

async function collect(read: (sink: Parameters<typeof readInOrder>[2]) => Promise<ReadReport>): Promise<Collected> {
  const sink = keepingSink();
  const report = await read({ block: sink.block, faults: sink.faultsSink, restart: sink.restart });
  const { blocks, faults } = sink;
  return { report, blocks, faults, restarts: sink.restarts(), content: contentOf(blocks) };
}

/** What blocks hold, independent of where they are cut; a channel without any value does not occur. */
export function contentOf(blocks: readonly SampleBlock[]): Content {
  const content: Content = {};
  for (const machineId of [...new Set(blocks.map((block) => block.machineId))].sort()) {
    const own = blocks.filter((block) => block.machineId === machineId);
    const names = [...new Set(own.flatMap(blockChannels))].sort();
    const values: Record<string, (number | null)[]> = {};
    for (const name of names) {
      const column = own.flatMap((block) =>
        Array.from(block.timeMs, (_, i) => block.channels[name]?.[i] ?? Number.NaN),
      );
      if (column.some((value) => !Number.isNaN(value)))
        values[name] = column.map((value) => (Number.isNaN(value) ? null : value));
    }
    content[machineId] = { timeMs: own.flatMap((block) => [...block.timeMs]), values };
  }
  return content;
}
