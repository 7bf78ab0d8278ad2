/** Blocks and fault reports laid down in a file, so that a reader that cannot wait runs ahead on the disk, not in memory. */

import { closeSync, ftruncateSync, openSync, writevSync } from 'node:fs';
import { open } from 'node:fs/promises';
import { OperatingError } from '@warmbrick/runtime';
import {
  blockChannels,
  type ChannelName,
  type Column,
  type FaultReport,
  isWideChannel,
  type SampleBlock,
} from '@warmbrick/signals';

type Spooled =
  | { readonly form: 'block'; readonly block: SampleBlock }
  | { readonly form: 'faults'; readonly reports: readonly FaultReport[] };

export interface BlockSpool {
  addBlock(block: SampleBlock): void;
  addFaults(reports: readonly FaultReport[]): void;
  /** Forgets everything. */
  restart(): void;
  /** Everything, in the order it was laid down; to be read after the last was added. */
  read(): AsyncGenerator<Spooled>;
  close(): void;
}

interface BlockHead {
  readonly machineId: string;
  readonly samples: number;
  readonly channels: readonly ChannelName[];
}
interface Head {
  readonly block?: BlockHead;
  readonly reports?: readonly FaultReport[];
}

/** Length of a head comes first, in four bytes. */
const lengthBytes = 4;
const wideBytes = 8;
const narrowBytes = 4;

/**
 * Opens an empty spool in a file.
 *
 * Errors: OperatingError `batch-too-large` from `addBlock` and `addFaults` beyond `mostBytes`; those of the file system.
 */
export function openBlockSpool(path: string, mostBytes: number): BlockSpool {
  const file = openSync(path, 'w+');
  let end = 0;
  const append = (head: Head, columns: readonly ArrayBufferView[]) => {
    const headBytes = Buffer.from(JSON.stringify(head));
    const length = Buffer.alloc(lengthBytes);
    length.writeUInt32LE(headBytes.length);
    const parts = [length, headBytes, ...columns];
    const bytes = parts.reduce((sum, part) => sum + part.byteLength, 0);
    if (end + bytes > mostBytes) throw tooLarge(mostBytes);
    writeAll(file, parts, end);
    end += bytes;
  };
  return {
    addBlock(block) {
      const channels = blockChannels(block);
      const head = { machineId: block.machineId, samples: block.timeMs.length, channels };
      append({ block: head }, [block.timeMs, ...channels.map((name) => block.channels[name] as Column)]);
    },
    addFaults: (reports) => append({ reports }, []),
    restart() {
      ftruncateSync(file, 0);
      end = 0;
    },
    read: () => readSpool(path, end),
    close: () => closeSync(file),
  };
}

/** A write may take a part only, such as when the disk is nearly full. */
function writeAll(file: number, parts: readonly ArrayBufferView[], at: number): void {
  const bytes = Buffer.concat(parts.map((part) => Buffer.from(part.buffer, part.byteOffset, part.byteLength)));
  for (let written = 0; written < bytes.length; ) {
    written += writevSync(file, [bytes.subarray(written)], at + written);
  }
}

async function* readSpool(path: string, end: number): AsyncGenerator<Spooled> {
  const file = await open(path, 'r');
  try {
    let at = 0;
    const take = async (length: number): Promise<Buffer> => {
      // Memory of its own, so that columns lie where their type wants them.
      const bytes = Buffer.from(new ArrayBuffer(length));
      for (let got = 0; got < length; ) {
        const { bytesRead } = await file.read(bytes, got, length - got, at + got);
        if (bytesRead === 0) throw new Error('the spool ends early');
        got += bytesRead;
      }
      at += length;
      return bytes;
    };
    while (at < end) {
      const head = JSON.parse((await take((await take(lengthBytes)).readUInt32LE())).toString()) as Head;
      if (head.block !== undefined) yield { form: 'block', block: await readBlock(head.block, take) };
      else yield { form: 'faults', reports: head.reports ?? [] };
    }
  } finally {
    await file.close();
  }
}

async function readBlock(head: BlockHead, take: (length: number) => Promise<Buffer>): Promise<SampleBlock> {
  const { machineId, samples, channels: names } = head;
  const timeMs = new Float64Array((await take(samples * wideBytes)).buffer as ArrayBuffer);
  const channels: Partial<Record<ChannelName, Column>> = {};
  for (const name of names) {
    const isWide = isWideChannel(name);
    const { buffer } = await take(samples * (isWide ? wideBytes : narrowBytes));
    channels[name] = isWide ? new Float64Array(buffer) : new Float32Array(buffer);
  }
  return { machineId, timeMs, channels };
}

function tooLarge(mostBytes: number): OperatingError {
  return new OperatingError(`Its samples take more than ${mostBytes} bytes.`, {
    code: 'batch-too-large',
    remedy: 'Cut the file into several, such as one a machine or a week.',
  });
}
