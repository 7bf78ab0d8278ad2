/** Opens a recording as a bounded stream of decompressed bytes, whatever it comes from. */

import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { createGunzip } from 'node:zlib';
import { detectFormat, isGzip } from './detect-format.js';
import type { RecordingFormat } from './recording.js';
import { absentFile, damagedRecording, emptyRecording, folderGiven, unknownFormat } from './recording-errors.js';

export interface ByteSource {
  /** How messages call it: the path, or "standard input". */
  readonly name: string;
  /** The path that was named, "-" for standard input; a machine may be called after it. */
  readonly origin: string;
  /** Where the bytes lie; the same, unless they were laid down elsewhere first. */
  readonly path: string;
  readonly format: RecordingFormat;
  /** Whether a reader that needs random access can open the path itself. */
  readonly isPlainFile: boolean;
  /** Whether it can be opened and read once more; false for pipes. */
  readonly isRereadable: boolean;
  /**
   * The decompressed bytes, once, in chunks of at most 256 KiB.
   *
   * Errors: `recording-damaged` after the last readable byte.
   */
  readonly chunks: AsyncIterable<Buffer>;
  close(): Promise<void>;
}

const chunkBytes = 262_144;
/** Compressed bytes fed at once: deflate expands at most 1032-fold, so one piece gives at most 17 MB. */
const gunzipBytes = 16_384;

/** Path that means standard input. */
const standardInput = '-';

/**
 * Opens a recording, looks at its first bytes and tells its format.
 *
 * Errors: `recording-absent`, `recording-is-folder`, `recording-empty`, `recording-unknown-format`,
 * `recording-damaged` when a compressed file breaks before anything could be read.
 */
export async function openSource(path: string, origin = path): Promise<ByteSource> {
  const name = origin === standardInput ? 'standard input' : origin;
  const isFile = await checkPath(path);
  const raw = path === standardInput ? process.stdin : createReadStream(path, { highWaterMark: chunkBytes });
  const rawChunks = raw[Symbol.asyncIterator]() as AsyncIterator<Buffer>;
  try {
    const firstRaw = await takeHead(rawChunks, 2);
    if (firstRaw.length === 0) throw emptyRecording(name);
    const isCompressed = isGzip(firstRaw);
    const plain = joined(firstRaw, rawChunks);
    const chunks = isCompressed ? gunzip(name, plain) : plain;
    const head = await takeHead(chunks, 16);
    if (head.length === 0) throw emptyRecording(name);
    const format = detectFormat(head);
    if (format === null) throw unknownFormat(name);
    const isPlainFile = isFile && !isCompressed;
    const close = async (): Promise<void> => {
      await chunks.return(undefined);
      raw.destroy();
    };
    return {
      name,
      origin,
      path,
      format,
      isPlainFile,
      isRereadable: isFile,
      chunks: iterable(joined(head, chunks)),
      close,
    };
  } catch (error) {
    raw.destroy();
    if (error instanceof Error && 'syscall' in error) throw absentFile(name, error);
    throw error;
  }
}

/** Whether the path is a file that can be read again; false for pipes. */
async function checkPath(path: string): Promise<boolean> {
  if (path === standardInput) return false;
  const found = await stat(path).catch((error: unknown) => {
    throw absentFile(path, error);
  });
  if (found.isDirectory()) throw folderGiven(path);
  return found.isFile();
}

/** Reads until there are `enough` bytes or the end; what was read is the head. */
async function takeHead(chunks: AsyncIterator<Buffer>, enough: number): Promise<Buffer> {
  const taken: Buffer[] = [];
  let length = 0;
  while (length < enough) {
    const next = await chunks.next();
    if (next.done === true) break;
    taken.push(next.value);
    length += next.value.length;
  }
  return taken.length === 1 ? (taken[0] as Buffer) : Buffer.concat(taken);
}

async function* joined(head: Buffer, rest: AsyncIterator<Buffer>): AsyncGenerator<Buffer> {
  yield head;
  for (;;) {
    const next = await rest.next();
    if (next.done === true) return;
    yield next.value;
  }
}

/** Decompresses piece by piece; unlike a piped stream it gives everything before a damage, and then the damage. */
async function* gunzip(name: string, raw: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
  const stream = createGunzip({ chunkSize: chunkBytes });
  const ready: Buffer[] = [];
  let failure: Error | null = null;
  stream.on('data', (chunk: Buffer) => ready.push(chunk));
  stream.on('error', (error) => {
    failure = error;
  });
  const closed = new Promise<void>((resolve) => stream.once('close', resolve));
  // A damage closes the stream without an answer to the write that met it.
  const write = (piece: Buffer): Promise<void> =>
    Promise.race([closed, new Promise<void>((resolve) => stream.write(piece, () => resolve()))]);
  try {
    for await (const chunk of raw) {
      for (let from = 0; from < chunk.length && failure === null; from += gunzipBytes) {
        await write(chunk.subarray(from, from + gunzipBytes));
        yield* ready.splice(0);
      }
      if (failure !== null) break;
    }
    if (failure === null) stream.end();
    await closed;
    yield* ready.splice(0);
  } finally {
    stream.destroy();
  }
  if (failure !== null) throw damagedRecording(name, gunzipFailure(failure), failure);
}

function gunzipFailure(error: NodeJS.ErrnoException): string {
  return error.code === 'Z_BUF_ERROR'
    ? 'The compressed file ends in the middle; it was cut short.'
    : `The compressed file is damaged (${error.message}).`;
}

function iterable(chunks: AsyncGenerator<Buffer>): AsyncIterable<Buffer> {
  return { [Symbol.asyncIterator]: () => chunks };
}
