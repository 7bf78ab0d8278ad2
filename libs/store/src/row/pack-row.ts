/**
 * Residency rows as bytes. One value a row costs the database a tenth of what a column a figure costs to read.
 *
 * The first byte is the form. Plain: the start and every figure as a double, big end first. Compact: the start in ms, a
 * mask of the figures that are written as doubles, then each figure as such or as a count of thousandths plus one (0 for
 * a missing one). A row says itself where it ends, so that many can follow each other.
 */

import type { ResidencyRow } from '@warmbrick/analysis';
import { type ByteReader, createByteReader, damagedChunk } from '../chunk/byte-reader.js';
import { createByteWriter } from '../chunk/byte-writer.js';

/** The figures in the order in which they are written; frozen. */
const figures = [
  'runningS',
  'idleS',
  'coolingDownS',
  'lightS',
  'workingS',
  'belowS',
  'inS',
  'aboveS',
  'belowReleaseS',
  'noTemperatureS',
  'crankingS',
  'offS',
  'unobservedS',
  'maxExhaustTempC',
  'fuelL',
] as const satisfies readonly Exclude<keyof ResidencyRow, 'startedMs'>[];

const plainForm = 1;
const compactForm = 2;
const maxCount = 2 ** 40;

/** A row as bytes; `unpackRows` gives it back bit for bit. Range: starts are whole ms from 1970 on. */
export function packRow(row: ResidencyRow): Uint8Array {
  const writer = createByteWriter(64);
  let mask = 0;
  for (let k = 0; k < figures.length; k++) if (!isThousandths(row[figures[k] as Figure])) mask |= 1 << k;
  writer.unsigned(compactForm);
  writer.unsigned(row.startedMs);
  writer.unsigned(mask);
  for (let k = 0; k < figures.length; k++) {
    const value = row[figures[k] as Figure];
    if ((mask >> k) & 1) writer.bytes(doubleBytes(value as number));
    else writer.unsigned(value === null ? 0 : Math.round(value * 1000) + 1);
  }
  return writer.finish();
}

type Figure = (typeof figures)[number];

function isThousandths(value: number | null): boolean {
  if (value === null) return true;
  // Adding zero turns negative zero, which has no count, into zero.
  const count = Math.round(value * 1000) + 0;
  return count >= 0 && count < maxCount && Object.is(count / 1000, value);
}

function doubleBytes(value: number): Uint8Array {
  const bytes = new Uint8Array(8);
  new DataView(bytes.buffer).setFloat64(0, value);
  return bytes;
}

/** Reads rows that follow each other. Errors: OperatingError `damaged-chunk` on bytes that `packRow` did not write. */
export function unpackRows(bytes: Uint8Array): ResidencyRow[] {
  const reader = createByteReader(bytes);
  const rows: ResidencyRow[] = [];
  while (reader.remaining() > 0) rows.push(readRow(reader));
  return rows;
}

function readRow(reader: ByteReader): ResidencyRow {
  const form = reader.unsigned();
  if (form !== plainForm && form !== compactForm) throw damagedChunk(`a row has form ${form}`);
  const startedMs = form === plainForm ? readDouble(reader) : reader.unsigned();
  const mask = form === plainForm ? (1 << figures.length) - 1 : reader.unsigned();
  return {
    startedMs,
    runningS: readFigure(reader, mask & 1),
    idleS: readFigure(reader, mask & 2),
    coolingDownS: readFigure(reader, mask & 4),
    lightS: readFigure(reader, mask & 8),
    workingS: readFigure(reader, mask & 16),
    belowS: readFigure(reader, mask & 32),
    inS: readFigure(reader, mask & 64),
    aboveS: readFigure(reader, mask & 128),
    belowReleaseS: readFigure(reader, mask & 256),
    noTemperatureS: readFigure(reader, mask & 512),
    crankingS: readFigure(reader, mask & 1024),
    offS: readFigure(reader, mask & 2048),
    unobservedS: readFigure(reader, mask & 4096),
    maxExhaustTempC: orNull(readFigure(reader, mask & 8192)),
    fuelL: readFigure(reader, mask & 16384),
  };
}

function readFigure(reader: ByteReader, isDouble: number): number {
  if (isDouble !== 0) return readDouble(reader);
  const count = reader.unsigned();
  return count === 0 ? Number.NaN : (count - 1) / 1000;
}

const doubleOut = new DataView(new ArrayBuffer(8));
const doubleIn = new Uint8Array(doubleOut.buffer);

function readDouble(reader: ByteReader): number {
  doubleIn.set(reader.bytes(8));
  return doubleOut.getFloat64(0);
}

function orNull(value: number): number | null {
  return value === value ? value : null;
}
