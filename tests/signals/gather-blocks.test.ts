import { createBlockGatherer, createColumn, mergeBlocks, type SampleBlock, sameSamples } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const names = ['engineSpeedRpm', 'engineHours', 'exhaustTempC'] as const;

/** A block of so many samples from a time on, with some of the channels in some order. */
function blockOf(fromMs: number, length: number, channels: readonly (typeof names)[number][]): SampleBlock {
  const timeMs = Float64Array.from({ length }, (_, i) => fromMs + i);
  const columns = channels.map((name, k) => {
    const column = createColumn(name, length);
    for (let i = 0; i < length; i++) if ((fromMs + i + k) % 4 > 0) column[i] = fromMs + i + k / 8;
    return [name, column];
  });
  return { machineId: 'm', timeMs, channels: Object.fromEntries(columns) };
}

const arbitraryBlocks = fc.array(
  fc.tuple(fc.integer({ min: -3, max: 12 }), fc.integer({ min: 0, max: 9 }), fc.shuffledSubarray([...names])),
  { maxLength: 20 },
);

function gathered(blocks: readonly SampleBlock[]): SampleBlock[] {
  const gatherer = createBlockGatherer();
  for (const block of blocks) gatherer.add(block);
  return gatherer.blocks();
}

describe('gathering blocks', () => {
  it('changes nothing of what they merge to, whatever follows on what', () => {
    fc.assert(
      fc.property(arbitraryBlocks, (plans) => {
        let atMs = 100;
        const blocks = plans.map(([gapMs, length, channels]) => {
          const block = blockOf(atMs + gapMs, length, channels);
          atMs += gapMs + length;
          return block;
        });
        const few = gathered(blocks);
        const counts = (merged: ReturnType<typeof mergeBlocks>) => [merged.duplicates, merged.conflicts];
        const [merged, wanted] = [mergeBlocks('m', few), mergeBlocks('m', blocks)];
        expect(sameSamples(merged.block, wanted.block)).toBe(true);
        expect(counts(merged)).toEqual(counts(wanted));
        expect(few.length).toBeLessThanOrEqual(blocks.length);
      }),
      { numRuns: 500 },
    );
  });

  it('makes one of all that follow on each other, and begins anew for other channels and for what comes late', () => {
    const following = Array.from({ length: 100 }, (_, n) => blockOf(n * 60, 60, names));
    expect(gathered(following).map(({ timeMs }) => timeMs.length)).toEqual([6000]);
    const [a, b] = [blockOf(0, 5, names), blockOf(5, 5, names)];
    const others = blockOf(10, 5, ['engineSpeedRpm']);
    const late = blockOf(3, 5, ['engineSpeedRpm']);
    expect(gathered([a, b, others, late]).map(({ timeMs }) => timeMs.length)).toEqual([10, 5, 5]);
  });

  it('hands a block that stays alone on as it is', () => {
    const block = blockOf(0, 5, names);
    expect(gathered([block])).toEqual([block]);
    expect(gathered([block])[0]).toBe(block);
    expect(gathered([])).toEqual([]);
  });
});
