import { OperatingError } from '@warmbrick/runtime';
import {
  type ChannelName,
  type Column,
  channelNames,
  channels,
  createColumn,
  quantise,
  type SampleBlock,
} from '@warmbrick/signals';
import { decodeChunk, encodeChunk } from '@warmbrick/store';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { hourStartMs, noisyBlock } from './blocks.js';

function sameBits(a: ArrayBufferView, b: ArrayBufferView): boolean {
  return Buffer.from(a.buffer, a.byteOffset, a.byteLength).equals(Buffer.from(b.buffer, b.byteOffset, b.byteLength));
}

function expectSame(actual: SampleBlock, expected: SampleBlock): void {
  expect(actual.machineId).toBe(expected.machineId);
  expect(sameBits(actual.timeMs, expected.timeMs)).toBe(true);
  expect(Object.keys(actual.channels).sort()).toEqual(Object.keys(expected.channels).sort());
  for (const name of Object.keys(expected.channels) as ChannelName[]) {
    const [a, b] = [actual.channels[name] as Column, expected.channels[name] as Column];
    expect(a.constructor).toBe(b.constructor);
    expect(sameBits(a, b), name).toBe(true);
  }
}

const times = fc
  .tuple(fc.integer({ min: 0, max: 4e12 }), fc.array(fc.integer({ min: 1, max: 3_600_000 }), { maxLength: 60 }))
  .map(([first, steps]) =>
    Float64Array.from([0, ...steps], (_, i) => first + steps.slice(0, i).reduce((a, b) => a + b, 0)),
  );

function columnOf(name: ChannelName, length: number): fc.Arbitrary<Column> {
  const { min, max } = channels[name];
  const value = fc.oneof(
    { weight: 6, arbitrary: fc.double({ min, max, noNaN: true }).map((it) => quantise(name, it)) },
    { weight: 2, arbitrary: fc.constant(Number.NaN) },
    { weight: 1, arbitrary: fc.constantFrom(quantise(name, min), quantise(name, max)) },
  );
  return fc.array(value, { minLength: length, maxLength: length }).map((values) => {
    const column = createColumn(name, length);
    column.set(values);
    return column;
  });
}

const quantisedBlock: fc.Arbitrary<SampleBlock> = fc
  .tuple(fc.string({ unit: 'grapheme', maxLength: 40 }), times, fc.subarray([...channelNames]))
  .chain(([machineId, timeMs, names]) =>
    fc
      .tuple(...names.map((name) => columnOf(name, timeMs.length)))
      .map((columns) => ({ machineId, timeMs, channels: Object.fromEntries(columns.map((it, i) => [names[i], it])) })),
  );

describe('chunks', () => {
  it('give back every quantised block bit for bit', () => {
    fc.assert(
      fc.property(quantisedBlock, (block) => {
        expectSame(decodeChunk(encodeChunk(block)), block);
      }),
    );
  });

  it('give back values off the grid bit for bit too', () => {
    const value = fc.oneof(fc.float({ noNaN: true }), fc.constantFrom(-0, Infinity, -Infinity, Number.NaN));
    fc.assert(
      fc.property(
        fc.array(value, { maxLength: 50 }),
        fc.array(fc.double({ noNaN: true }), { minLength: 50 }),
        (narrow, wide) => {
          const count = narrow.length;
          const timeMs = Float64Array.from(narrow, (_, i) => 0.25 + i / 3);
          const block = {
            machineId: 'm',
            timeMs,
            channels: { exhaustTempC: Float32Array.from(narrow), engineHours: Float64Array.from(wide.slice(0, count)) },
          };
          expectSame(decodeChunk(encodeChunk(block)), block);
        },
      ),
    );
  });

  it('give only the channels that were asked for', () => {
    const block = noisyBlock(['engineSpeedRpm', 'exhaustTempC', 'engineHours'], 10, 1);
    const decoded = decodeChunk(encodeChunk(block), ['exhaustTempC']);
    expectSame(decoded, { ...block, channels: { exhaustTempC: block.channels.exhaustTempC as Column } });
  });

  it('know every channel of the catalogue with its present step and offset', () => {
    for (const name of channelNames) {
      const { resolution, offset } = channels[name];
      // Off the grid, these three counts would be written at full width, 4 or 8 bytes each.
      const column = createColumn(name, 3000);
      for (let i = 0; i < column.length; i++) column[i] = offset + (Math.imul(i, 2654435761 >>> 20) % 50) * resolution;
      const timeMs = Float64Array.from(column, (_, i) => hourStartMs + i);
      const bytes = encodeChunk({ machineId: 'm', timeMs, channels: { [name]: column } });
      expect(bytes.length, `${name}: give a changed step or offset a new entry in chunk-layout.ts`).toBeLessThan(3800);
    }
  });

  it('read the first chunk ever written', () => {
    // Pinned bytes: the format is frozen, so this must never be edited.
    const bytes = Buffer.from(pinnedChunk, 'base64');
    const decoded = decodeChunk(bytes);
    expect(decoded.machineId).toBe('quarry-haul-01');
    expect([...decoded.timeMs]).toEqual([1768456800000, 1768456801000, 1768456803500]);
    expect([...(decoded.channels.exhaustTempC as Column)]).toEqual([412.03125, Number.NaN, 411.96875]);
    expect([...(decoded.channels.engineHours as Column)]).toEqual([210_000_000.05, 210_000_000.05, 210_000_000.1]);
  });
});

const pinnedChunk = 'AQE/PngB4yssTSwqqtTNSCzN0TUwZGZomPOq+UfaBf4d4kzMDEyMjIeuMTGrMc6aKcmwkWOlI4w2NjYG8wGquxSX';

describe('chunk size', () => {
  // Source: the project's own measurement of these encodings: 14.7 bytes a machine-second of 20 channels at 300 s.
  it('is about 15 bytes a second for 20 noisy channels', () => {
    const names = channelNames.filter((name) => channels[name].kind === 'continuous').slice(0, 20);
    expect(names).toHaveLength(20);
    for (const [seconds, mostBytes] of [
      [300, 18],
      [3600, 17],
    ] as const) {
      const bytes = encodeChunk(noisyBlock(names, seconds, 7)).length / seconds;
      expect(bytes).toBeLessThan(mostBytes);
      expect(bytes).toBeGreaterThan(5);
    }
  });

  it('is next to nothing for channels that are constant or missing', () => {
    const timeMs = Float64Array.from({ length: 3600 }, (_, i) => hourStartMs + i * 1000);
    const columns = Object.fromEntries(
      channelNames.map((name, i) => [
        name,
        createColumn(name, 3600).fill(i % 2 === 0 ? Number.NaN : quantise(name, 50)),
      ]),
    );
    expect(encodeChunk({ machineId: 'm', timeMs, channels: columns }).length).toBeLessThan(1500);
  });
});

describe('damaged chunks', () => {
  const block = noisyBlock(['engineSpeedRpm', 'exhaustTempC', 'engineHours'], 50, 3);
  const whole = encodeChunk(block);

  function errorOf(bytes: Uint8Array): unknown {
    try {
      return decodeChunk(bytes);
    } catch (error) {
      return error;
    }
  }

  it('are refused with an operating error wherever a byte that matters is changed', () => {
    let refused = 0;
    for (let at = 0; at < whole.length; at++) {
      for (const flip of [1, 0x80, 0xff]) {
        const bytes = Uint8Array.from(whole);
        bytes[at] = (bytes[at] as number) ^ flip;
        const error = errorOf(bytes);
        if (error instanceof OperatingError) {
          expect(error.code).toMatch(/^(damaged-chunk|chunk-too-new)$/);
          refused++;
        } else {
          // The last bits before the checksum only fill up a byte.
          expectSame(error as SampleBlock, block);
        }
      }
    }
    expect(refused).toBeGreaterThan(3 * whole.length - 6);
  });

  it('are refused when cut short, lengthened or made of anything', () => {
    for (let length = 0; length < whole.length; length++) {
      expect(errorOf(whole.subarray(0, length))).toMatchObject({ code: 'damaged-chunk' });
    }
    expect(errorOf(Buffer.concat([whole, Buffer.from([0])]))).toMatchObject({ code: 'damaged-chunk' });
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), (bytes) => {
        expect(errorOf(bytes)).toBeInstanceOf(OperatingError);
      }),
    );
  });

  it('cannot ask for more memory than an hour of samples needs', () => {
    // Format 1, codec 1, a body of 2^50 bytes.
    const huge = Uint8Array.from([1, 1, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 2, 0]);
    expect(errorOf(huge)).toMatchObject({ code: 'damaged-chunk' });
  });
});
