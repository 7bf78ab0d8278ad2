import { decodeFaults, fmiTexts } from '@warmbrick/j1939';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { bytes } from './frames.js';

describe('decodeFaults', () => {
  // Source: SAE J1939-73: two bits a lamp, malfunction in the highest.
  it('reads each lamp and the flash byte', () => {
    expect(decodeFaults(bytes('1BC0'))).toEqual({
      lamps: { malfunction: 'off', redStop: 'on', amberWarning: 'reserved', protect: 'unavailable' },
      flash: 0xc0,
      codes: [],
    });
  });

  it.each(['00FF00000000FFFF', '00FFFFFFFFFFFFFF', '00FF', '00FF5B0003'])('reports %s as an empty list', (payload) => {
    expect(decodeFaults(bytes(payload)).codes).toEqual([]);
  });

  // Source: conversion method bit, SAE J1939-73; the layout of an old method cannot be told from the bits.
  it('marks a code of an older conversion method', () => {
    expect(decodeFaults(bytes('00FF900C1482')).codes).toEqual([
      { spn: 3216, fmi: 20, occurrenceCount: 2, conversionMethod: 1 },
    ]);
  });

  it('law: a code written by the layout is read back', () => {
    const code = fc.record({
      spn: fc.integer({ min: 1, max: 0x7fffe }),
      fmi: fc.integer({ min: 0, max: 31 }),
      occurrenceCount: fc.option(fc.integer({ min: 0, max: 126 })),
      conversionMethod: fc.constantFrom(0 as const, 1 as const),
    });
    fc.assert(
      fc.property(fc.array(code, { maxLength: 60 }), fc.integer({ min: 0, max: 3 }), (codes, padding) => {
        const payload = [0, 255, ...codes.flatMap(write), ...Array.from({ length: padding }, () => 255)];
        expect(decodeFaults(Uint8Array.from(payload)).codes).toEqual(codes);
      }),
    );
  });

  it('has a text for each of the 32 failure modes', () => {
    expect(fmiTexts).toHaveLength(32);
    expect(fmiTexts.every((text) => text.length > 0)).toBe(true);
    expect(fmiTexts[31]).toBe('condition exists');
  });
});

function write(code: { spn: number; fmi: number; occurrenceCount: number | null; conversionMethod: 0 | 1 }): number[] {
  return [
    code.spn & 255,
    (code.spn >> 8) & 255,
    ((code.spn >> 16) << 5) | code.fmi,
    (code.conversionMethod << 7) | (code.occurrenceCount ?? 127),
  ];
}
