import { decodeSignals, parseCanId, rawStatus, readBits, signals } from '@warmbrick/j1939';
import { channelNames, channels } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { bytes } from './frames.js';

describe('signal table', () => {
  it('holds each signal once and covers every parameter of the channel catalogue', () => {
    const spns = signals.map((signal) => signal.spn);
    expect(new Set(spns).size).toBe(spns.length);
    const wanted = channelNames.flatMap((name) => [...channels[name].spns]);
    expect(wanted.filter((spn) => !spns.includes(spn))).toEqual([]);
  });

  it('has no two signals on the same bit of a message', () => {
    const taken = new Set<string>();
    for (const { pgn, startBit, bits } of signals) {
      for (let bit = startBit; bit < startBit + bits; bit++) {
        expect(taken.has(`${pgn}:${bit}`), `PGN ${pgn} bit ${bit}`).toBe(false);
        taken.add(`${pgn}:${bit}`);
      }
    }
  });

  it('agrees with the channel catalogue on unit, resolution and offset', () => {
    const bySpn = new Map(signals.map((signal) => [signal.spn, signal]));
    for (const name of channelNames) {
      const { spns, unit, resolution, offset } = channels[name];
      for (const spn of spns) {
        expect(bySpn.get(spn), `${name}, SPN ${spn}`).toMatchObject({ unit, scale: resolution, offset });
      }
    }
  });
});

describe('decodeSignals', () => {
  it('leaves out what the payload does not hold', () => {
    expect(decodeSignals(61444, bytes('FF7D7DE0')).map((signal) => signal.spn)).toEqual([899, 4154, 512, 513]);
    expect(decodeSignals(1, bytes('0000000000000000'))).toEqual([]);
  });

  // Source: state lists of SAE J1939-71: 2 is "about to start" for 3700, "reserved" for 3702; 14 is a mode of 899; 6 is
  // "temporary override" of 5246, an error of 4339 and means nothing for 3701.
  it.each([
    [64892, '0008000000000000', 3700, 'valid'],
    [64892, '0000020000000000', 3702, 'reserved'],
    [64892, '0060000000000000', 3701, 'reserved'],
    [61444, '0E00000000000000', 899, 'valid'],
    [65110, '0000000000C00000', 5246, 'valid'],
    [64833, '0000003000000000', 4339, 'error'],
    [61443, '0002000000000000', 91, 'valid'],
    [65252, '0000000200000000', 1081, 'error'],
  ])('PGN %i %s: SPN %i is %s', (pgn, payload, spn, status) => {
    expect(decodeSignals(pgn, bytes(payload)).find((signal) => signal.spn === spn)?.status).toBe(status);
  });

  it('law: a field is read back wherever it lies', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 32 }), fc.nat(31), fc.nat(0xffffffff), (bits, startBit, seed) => {
        const raw = seed % 2 ** bits;
        const whole = BigInt(raw) << BigInt(startBit);
        const payload = Uint8Array.from({ length: 8 }, (_, i) => Number((whole >> BigInt(8 * i)) & 255n));
        expect(readBits(payload, startBit, bits)).toBe(raw);
      }),
    );
  });

  it('law: exactly the valid values carry a number, and it is raw x scale + offset', () => {
    const pgn = fc.constantFrom(...new Set(signals.map((signal) => signal.pgn)));
    const bySpn = new Map(signals.map((signal) => [signal.spn, signal]));
    fc.assert(
      fc.property(pgn, fc.uint8Array({ maxLength: 40 }), (group, payload) => {
        for (const { spn, raw, status, value } of decodeSignals(group, payload)) {
          const signal = bySpn.get(spn);
          if (!signal) throw new Error(`unknown SPN ${spn}`);
          expect(status).toBe(signal.listed[raw] ?? rawStatus(signal.bits, raw));
          expect(value).toBe(status === 'valid' ? raw * signal.scale + signal.offset : null);
        }
      }),
    );
  });
});

describe('parseCanId', () => {
  // Source: SAE J1939-21; the request for PGN 65226 from address F9 to address 0.
  it('splits an addressed identifier', () => {
    expect(parseCanId(0x18ea00f9)).toEqual({ priority: 6, pgn: 0xea00, sourceAddress: 0xf9, destinationAddress: 0 });
  });

  // Source: recorded frames: the same message with priority 5 and 6.
  it('gives the same group whatever the priority, and ignores flags above the 29th bit', () => {
    expect(parseCanId(0x14fd3e00).pgn).toBe(64830);
    expect(parseCanId(0x18fd3e00).pgn).toBe(64830);
    expect(parseCanId(0x98fd3e00)).toEqual(parseCanId(0x18fd3e00));
  });

  it('keeps the data page bits in the group number', () => {
    expect(parseCanId(0x19f00400).pgn).toBe(0x1f004);
    expect(parseCanId(0x1bea00f9).pgn).toBe(0x3ea00);
  });
});
