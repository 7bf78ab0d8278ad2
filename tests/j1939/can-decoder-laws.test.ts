import { type CanDecoder, createCanDecoder } from '@warmbrick/j1939';
import { blockChannels, channels, type FaultReport, quantise, type SampleBlock } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

interface RawFrame {
  readonly timeMs: number;
  readonly bus: string;
  readonly id: number;
  readonly payload: Uint8Array;
}

/** Groups of every kind the decoder knows, and one it does not. */
const groups = [
  61443, 61444, 61454, 61455, 61475, 64830, 64892, 64948, 65110, 65226, 65227, 65253, 65262, 65270, 65280,
];
const addresses = [0, 3, 61, 81, 85, 163, 255];

const broadcastId = fc
  .tuple(fc.constantFrom(...groups), fc.constantFrom(...addresses))
  .map(([pgn, address]) => 0x18000000 + pgn * 256 + address);
const transferId = fc
  .tuple(fc.constantFrom(0xec, 0xeb), fc.constantFrom(...addresses), fc.constantFrom(...addresses))
  .map(([format, destination, source]) => 0x18000000 + format * 65536 + destination * 256 + source);
/** Payloads with the bytes that decoders trip over. */
const payloadByte = fc.oneof(fc.nat(255), fc.constantFrom(0, 1, 16, 17, 32, 250, 251, 252, 254, 255));
const payload = fc.array(payloadByte, { maxLength: 8 }).map((list) => Uint8Array.from(list));
const rawFrame = fc.record({
  stepMs: fc.oneof(fc.nat(300), fc.constantFrom(0, 1000, 6000, 70_000)),
  bus: fc.constantFrom('can0', 'can1', 'vehicle'),
  id: fc.oneof({ weight: 4, arbitrary: broadcastId }, { weight: 2, arbitrary: transferId }, fc.nat(0x1fffffff)),
  payload,
});
const rising = fc.array(rawFrame, { maxLength: 120 }).map((steps): RawFrame[] => {
  let timeMs = 1_700_000_000_123;
  return steps.map(({ stepMs, ...frame }) => {
    timeMs += stepMs;
    return { ...frame, timeMs };
  });
});

describe('laws of the decoder', () => {
  it('no frame whatever throws, at any time, with any length', () => {
    const wild = fc.record({
      timeMs: fc.oneof(fc.double(), fc.integer({ min: -5000, max: 20_000 })),
      id: fc.oneof(broadcastId, transferId, fc.integer(), fc.double()),
      payload: fc.uint8Array({ maxLength: 70 }),
      length: fc.oneof(fc.nat(70), fc.integer(), fc.double()),
    });
    fc.assert(
      fc.property(fc.array(wild, { maxLength: 80 }), (frames) => {
        const decoder = createCanDecoder({ machineId: 'm1' });
        for (const frame of frames) decoder.push(frame.timeMs, '', frame.id, frame.payload, frame.length);
        decoder.finish();
        checkBlock(decoder.takeBlock());
        expect(decoder.frames).toBe(frames.length);
        expect(decoder.lateFrames).toBeLessThanOrEqual(frames.length);
      }),
    );
  });

  it('samples lie on the grid, rise strictly, and hold only values that rounding and range leave alone', () => {
    fc.assert(fc.property(rising, (frames) => checkBlock(join(run(frames).blocks))));
  });

  it('taking blocks and faults at any point changes nothing', () => {
    fc.assert(
      fc.property(rising, fc.infiniteStream(fc.boolean()), (frames, takes) => {
        const whole = run(frames);
        const cut = run(frames, () => takes.next().value as boolean);
        expect(rows(cut.blocks)).toEqual(rows(whole.blocks));
        expect(cut.faults).toEqual(whole.faults);
      }),
    );
  });

  it('a sample never changes through what comes later', () => {
    fc.assert(
      fc.property(rising, fc.nat(120), (frames, count) => {
        const whole = rows(run(frames).blocks);
        const start = rows(run(frames.slice(0, count)).blocks);
        // The last one was finished early, so only the ones before it are final.
        expect(whole.slice(0, Math.max(0, start.length - 1))).toEqual(start.slice(0, -1));
      }),
    );
  });

  it('names of buses mean nothing', () => {
    const renamed: Record<string, string> = { can0: 'vehicle', can1: 'can0', vehicle: 'can1' };
    fc.assert(
      fc.property(rising, (frames) => {
        const other = frames.map((frame) => ({ ...frame, bus: renamed[frame.bus] as string }));
        expect(summary(run(other))).toEqual(summary(run(frames)));
      }),
    );
  });

  it('the buffer of a payload may be used again', () => {
    fc.assert(
      fc.property(rising, (frames) => {
        const decoder = createCanDecoder({ machineId: 'm1' });
        const buffer = new Uint8Array(8);
        for (const { timeMs, bus, id, payload: bytes } of frames) {
          buffer.fill(0xa5).set(bytes);
          decoder.push(timeMs, bus, id, buffer, bytes.length);
        }
        decoder.finish();
        const expected = run(frames);
        expect(rows([decoder.takeBlock()])).toEqual(rows(expected.blocks));
        expect(decoder.takeFaults()).toEqual(expected.faults);
      }),
    );
  });
});

interface Run {
  readonly blocks: (SampleBlock | null)[];
  readonly faults: FaultReport[];
  readonly decoder: CanDecoder;
}

function run(frames: readonly RawFrame[], takesNow: () => boolean = () => false): Run {
  const decoder = createCanDecoder({ machineId: 'm1' });
  const blocks: (SampleBlock | null)[] = [];
  const faults: FaultReport[] = [];
  for (const { timeMs, bus, id, payload: bytes } of frames) {
    decoder.push(timeMs, bus, id, bytes, bytes.length);
    if (!takesNow()) continue;
    blocks.push(decoder.takeBlock());
    faults.push(...decoder.takeFaults());
  }
  decoder.finish();
  blocks.push(decoder.takeBlock());
  faults.push(...decoder.takeFaults());
  return { blocks, faults, decoder };
}

function summary({ blocks, faults, decoder }: Run) {
  return [rows(blocks), faults, decoder.unusable, decoder.incompleteTransfers];
}

/** Samples as objects of time and usable values, so that blocks cut differently compare. */
function rows(blocks: readonly (SampleBlock | null)[]): Record<string, number>[] {
  return blocks.flatMap((block) =>
    [...(block?.timeMs ?? [])].map((timeMs, i) => {
      const row: Record<string, number> = { timeMs };
      for (const name of block ? blockChannels(block) : []) {
        const value = block?.channels[name]?.[i] as number;
        if (value === value) row[name] = value;
      }
      return row;
    }),
  );
}

function join(blocks: readonly (SampleBlock | null)[]): SampleBlock | null {
  return blocks.find((block) => block !== null) ?? null;
}

function checkBlock(block: SampleBlock | null): void {
  if (!block) return;
  let before = Number.NEGATIVE_INFINITY;
  for (const timeMs of block.timeMs) {
    // Compared as numbers: -0 is a multiple as well.
    expect(timeMs % 1000 === 0).toBe(true);
    expect(timeMs).toBeGreaterThan(before);
    before = timeMs;
  }
  for (const name of blockChannels(block)) {
    const column = block.channels[name];
    expect(column?.length).toBe(block.timeMs.length);
    for (const value of column ?? []) {
      if (value !== value) continue;
      expect(quantise(name, value)).toBe(value);
      expect(value).toBeGreaterThanOrEqual(channels[name].min);
    }
  }
}
