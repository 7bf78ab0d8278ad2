import { packColumns, unpackColumns } from '@warmbrick/contracts';
import { arbitraryRecording } from '@warmbrick/testkit';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

describe('packed sample columns', () => {
  it('come out as they went in, bit for bit (any recordings, any name)', () => {
    fc.assert(
      fc.property(
        fc.array(arbitraryRecording(), { maxLength: 3 }),
        fc.string({ unit: 'grapheme', minLength: 1 }),
        (blocks, machineId) => {
          const named = blocks.map((block) => ({ ...block, machineId }));
          expect(unpackColumns(packColumns(named))).toEqual(named);
        },
      ),
      { numRuns: 50 },
    );
  });

  it('are refused when they are something else', () => {
    expect(() => unpackColumns(new Uint8Array(4))).toThrow(RangeError);
    expect(() => unpackColumns(new TextEncoder().encode('{"not": "ours"}') as Uint8Array<ArrayBuffer>)).toThrow(
      RangeError,
    );
  });
});
