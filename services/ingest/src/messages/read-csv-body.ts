/** A CSV of named channels in memory -> samples, through the readers of recordings. */

import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DamagedRecordingError, type ReadReport, readUnordered } from '@warmbrick/recordings';
import { OperatingError } from '@warmbrick/runtime';
import type { SampleBlock } from '@warmbrick/signals';
import { emptyReading, type ReadMessages } from './read-messages.js';

export interface ReadCsv extends ReadMessages {
  readonly duplicates: number;
}

/** Stands for the machine of a CSV that names none; no machine can be called so, as it holds a control character. */
const unnamed = '\u0000';

/**
 * Reads a CSV; `machineId` is the machine of one without a column for it.
 *
 * Errors: none that are the sender's: a CSV that is none is one reject without samples. OperatingError when the temporary
 * folder cannot be written.
 */
export async function readCsvBody(bytes: Uint8Array, machineId: string | undefined): Promise<ReadCsv> {
  const folder = await mkdtemp(join(tmpdir(), 'warmbrick-body-'));
  try {
    const path = join(folder, 'body');
    await writeFile(path, bytes);
    return await readFile(path, machineId);
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

async function readFile(path: string, machineId: string | undefined): Promise<ReadCsv> {
  const read = emptyReading();
  const block = (each: SampleBlock) => void read.blocks.push(each);
  const options = { machineId: machineId ?? unnamed };
  try {
    const report = await readUnordered([path], options, { block, restart: () => {} });
    return conclude(read, report, path);
  } catch (error) {
    if (error instanceof DamagedRecordingError) return conclude(read, error.report, path);
    if (!(error instanceof OperatingError) || !error.code.startsWith('recording-')) throw error;
    // Nothing of it can be used: the message of the reader says why.
    read.rejects.add({ reason: 'bad-shape', where: 'body', detail: error.message });
    return { ...read, duplicates: 0 };
  }
}

function conclude(read: ReadMessages, report: ReadReport, path: string): ReadCsv {
  const { rejects, unusable, duplicates } = report;
  if (report.formats[0] !== 'csv') return refuse('the body is no CSV of named channels');
  if (read.blocks.some(({ machineId }) => machineId === unnamed)) {
    return refuse('there is no column machineId; add one, or name the machine with ?machineId=');
  }
  for (const { reason, where, detail } of rejects.examples) {
    read.rejects.add({ reason, where: where.replace(`${path}, `, ''), detail });
  }
  const [last] = rejects.examples.slice(-1);
  const unlisted = rejects.count - rejects.examples.length;
  if (last !== undefined && unlisted > 0) {
    read.rejects.add({ reason: last.reason, where: 'further lines', detail: `${unlisted} more` }, unlisted);
  }
  for (const reasons of Object.values(unusable).flatMap((ofMachine) => Object.values(ofMachine))) {
    read.droppedValues.implausible += reasons.implausible ?? 0;
    read.droppedValues.notNumbers += reasons['not-a-number'] ?? 0;
  }
  read.droppedValues.unknownChannels += report.warnings.length;
  return { ...read, duplicates };
}

function refuse(detail: string): ReadCsv {
  const read = emptyReading();
  read.rejects.add({ reason: 'bad-shape', where: 'body', detail });
  return { ...read, duplicates: 0 };
}
