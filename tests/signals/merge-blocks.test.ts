import { mergeBlocks, type SampleBlock, sameSamples } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const block = (rows: readonly (readonly [number, number | null, number | null])[]): SampleBlock => ({
  machineId: 'm',
  timeMs: Float64Array.from(rows, ([time]) => time),
  channels: {
    engineSpeedRpm: Float32Array.from(rows, ([, rpm]) => rpm ?? Number.NaN),
    engineHours: Float64Array.from(rows, ([, , hours]) => hours ?? Number.NaN),
  },
});
const arbitraryBlock = fc
  .array(
    fc.tuple(
      fc.integer({ min: 0, max: 12 }),
      fc.option(fc.integer({ min: 0, max: 3 })),
      fc.option(fc.integer({ min: 0, max: 3 })),
    ),
    { maxLength: 12 },
  )
  .map(block);
const merge = (...blocks: SampleBlock[]) => mergeBlocks('m', blocks).block;

describe('merging blocks', () => {
  it('sorts, joins what belongs to one time, and counts', () => {
    const {
      block: merged,
      duplicates,
      conflicts,
    } = mergeBlocks('m', [
      block([
        [3, 900, null],
        [1, 700, null],
      ]),
      block([
        [1, null, 10.05],
        [3, 950, 10.1],
        [2, 800, null],
      ]),
    ]);
    expect([...merged.timeMs]).toEqual([1, 2, 3]);
    expect([...(merged.channels.engineSpeedRpm ?? [])]).toEqual([700, 800, 950]);
    expect([...(merged.channels.engineHours ?? [])]).toEqual([10.05, Number.NaN, 10.1]);
    expect({ duplicates, conflicts }).toEqual({ duplicates: 2, conflicts: 1 });
  });

  it('gives an empty block for nothing', () => {
    expect(mergeBlocks('m', []).block.timeMs.length).toBe(0);
  });

  it('does not care about order, grouping or repetition', () => {
    fc.assert(
      fc.property(arbitraryBlock, arbitraryBlock, arbitraryBlock, (a, b, c) => {
        const all = merge(a, b, c);
        expect(sameSamples(merge(c, a, b), all)).toBe(true);
        expect(sameSamples(merge(merge(a, b), c), all)).toBe(true);
        expect(sameSamples(merge(a, merge(b, c)), all)).toBe(true);
        expect(sameSamples(merge(all, b, all), all)).toBe(true);
      }),
    );
  });

  it('gives strictly rising times', () => {
    fc.assert(
      fc.property(arbitraryBlock, arbitraryBlock, (a, b) => {
        const { timeMs } = merge(a, b);
        for (let i = 1; i < timeMs.length; i++) expect(timeMs[i]).toBeGreaterThan(timeMs[i - 1] as number);
      }),
    );
  });

  it('shares no memory with what it is made of', () => {
    const source = block([[1, 700, 5]]);
    const merged = merge(source);
    source.timeMs[0] = 9;
    (source.channels.engineSpeedRpm as Float32Array)[0] = 1;
    expect([merged.timeMs[0], merged.channels.engineSpeedRpm?.[0]]).toEqual([1, 700]);
  });
});
