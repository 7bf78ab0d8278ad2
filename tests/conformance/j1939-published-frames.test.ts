/**
 * Frames that others published together with what they mean. The source stands beside each.
 * Tolerance: half of the last printed digit.
 */

import {
  createTransportAssembler,
  decodeFaults,
  decodeSignals,
  parseCanId,
  type RawStatus,
  rawStatus,
  readBits,
} from '@warmbrick/j1939';
import { describe, expect, it } from 'vitest';
import { assemble, bytes, frame } from '../j1939/frames.js';

interface PublishedFrame {
  readonly source: string;
  readonly text: string;
  readonly pgn: number;
  readonly sourceAddress: number;
  /** By SPN; null: not available. */
  readonly values: Readonly<Record<number, number | null>>;
}

const frames: readonly PublishedFrame[] = [
  {
    source: 'MEC 310 genset controller manual, option J, page 9',
    text: '0CF00400#FF7D7DE015FFF0FF',
    pgn: 61444,
    sourceAddress: 0,
    values: { 190: 700, 512: 0, 513: 0 },
  },
  {
    source: 'pretty_j1939 README, engine controller 1',
    text: '0CF00400#207D87481400F087',
    pgn: 61444,
    sourceAddress: 0,
    values: { 190: 649, 512: 0, 513: 10, 2432: 10 },
  },
  {
    source: 'jackm/j1939decode README',
    text: '0CF00400#F07D83831700FF83',
    pgn: 61444,
    sourceAddress: 0,
    values: { 190: 752.375 },
  },
  {
    source: 'CSS-Electronics/can_decoder tests/test_iterator_manual_j1939.py',
    text: '0CF004FE#107D82BD1200F482',
    pgn: 61444,
    sourceAddress: 254,
    values: { 190: 599.625 },
  },
  {
    source: 'SystemsCyber/CANDataDecoders README, engine controller 1',
    text: '0CF00400#11A3A32C32000FA3',
    pgn: 61444,
    sourceAddress: 0,
    values: { 190: 1605.5, 512: 38, 513: 38, 899: 1, 4154: 0.125 },
  },
  {
    // That README prints 13107 for the mass flow, which is FFFF taken as a number; it is "not available".
    source: 'SystemsCyber/CANDataDecoders README, engine controller 3',
    text: '18FEDF00#8AA0287D7DFFFFF5',
    pgn: 65247,
    sourceAddress: 0,
    values: { 514: 13, 515: 1300, 3236: null },
  },
  {
    source: 'pretty_j1939 README, engine controller 3',
    text: '18FEDF00#82FFFFFF7DE70300',
    pgn: 65247,
    sourceAddress: 0,
    values: { 514: 5, 3236: 199.8 },
  },
  {
    source: 'pretty_j1939 README, filter pressure drop',
    text: '18FDB255#FFFFFFFF0100FFFF',
    pgn: 64946,
    sourceAddress: 85,
    values: { 3251: 0.1 },
  },
];

describe('published frames decode to the published values', () => {
  it.each(frames)('$text ($source)', ({ text, pgn, sourceAddress, values }) => {
    const { id, payload } = frame(text);
    expect(parseCanId(id)).toMatchObject({ pgn, sourceAddress, destinationAddress: 255 });
    const decoded = new Map(decodeSignals(pgn, payload).map((signal) => [signal.spn, signal]));
    for (const [spn, expected] of Object.entries(values)) {
      const signal = decoded.get(Number(spn));
      if (expected === null) expect(signal).toMatchObject({ value: null, status: 'not-available' });
      else expect(signal?.value, `SPN ${spn}`).toBeCloseTo(expected, 6);
    }
  });

  // Source: CSS-Electronics/j1939_pgn README.
  it('takes identifier 16704256 as PGN 65251 of address 0', () => {
    expect(parseCanId(16704256)).toEqual({ priority: 0, pgn: 65251, sourceAddress: 0, destinationAddress: 255 });
  });
});

describe('fault messages, pretty_j1939 tests/test_diagnostic_messages.py', () => {
  const active91 = { spn: 91, fmi: 3, occurrenceCount: 1, conversionMethod: 0 };

  it('DM1 with one code', () => {
    const { id, payload } = frame('18FECA00#40FF5B000301FFFF');
    expect(parseCanId(id).pgn).toBe(65226);
    expect(decodeFaults(payload)).toEqual({
      lamps: { malfunction: 'on', redStop: 'off', amberWarning: 'off', protect: 'off' },
      flash: 255,
      codes: [active91],
    });
  });

  it('DM2 with one code', () => {
    const { id, payload } = frame('18FECB00#00FF5B000301FFFF');
    expect(parseCanId(id).pgn).toBe(65227);
    expect(decodeFaults(payload)).toMatchObject({ lamps: { malfunction: 'off' }, codes: [active91] });
  });

  it('DM1 with four codes by broadcast transfer', () => {
    const [message, ...others] = assemble(createTransportAssembler(), [
      '18ECFF00#20120003FFCAFE00',
      '18EBFF00#0100FF5B0003015C',
      '18EBFF00#020004025D000503',
      '18EBFF00#035E000604FFFFFF',
    ]);
    expect(others).toEqual([]);
    expect(message?.pgn).toBe(65226);
    const { codes } = decodeFaults(message?.payload ?? new Uint8Array());
    expect(codes.map(({ spn, fmi, occurrenceCount }) => [spn, fmi, occurrenceCount])).toEqual([
      [91, 3, 1],
      [92, 4, 2],
      [93, 5, 3],
      [94, 6, 4],
    ]);
  });
});

describe('transport protocol', () => {
  it('broadcast of 20 bytes (J1939-Framework Tests/BAM_test.cpp)', () => {
    const messages = assemble(createTransportAssembler(), [
      '00ECFF50#20140003FF05F000',
      '00EBFF50#01ABCDEF01234567',
      '00EBFF50#0289ABCDEFABCDEF',
      '00EBFF50#03ABCDEFABCDEFFF',
    ]);
    expect(messages).toEqual([
      {
        pgn: 0xf005,
        sourceAddress: 0x50,
        destinationAddress: 255,
        payload: bytes('ABCDEF01234567 89ABCDEFABCDEF ABCDEFABCDEF'),
      },
    ]);
  });

  // Frames: Log-File-Format-Converter, Logger2_example.bin. Values: pretty_j1939 README.
  it('regeneration history of 40 bytes', () => {
    const [message] = assemble(createTransportAssembler(), [
      '18ECFF55#20280006FF98FD00',
      '18EBFF55#01C7010000FFFFFF',
      '18EBFF55#02FFFFFFFFFFFFFF',
      '18EBFF55#03FFFFFFFFFFFFFF',
      '18EBFF55#04FFFFFFFFFFFFFF',
      '18EBFF55#05FFFFFFFF6DA702',
      '18EBFF55#0600A42D0000FFFF',
    ]);
    expect(message).toMatchObject({ pgn: 64920, sourceAddress: 0x55 });
    const decoded = decodeSignals(64920, message?.payload ?? new Uint8Array());
    expect(decoded).toHaveLength(10);
    const values = new Map(decoded.map((signal) => [signal.spn, signal.value]));
    expect(values.get(3522)).toBe(227.5);
    expect(values.get(5454)).toBe(173933);
    expect(values.get(5827)).toBe(1460.5);
    expect(decoded.filter((signal) => signal.status === 'not-available')).toHaveLength(7);
  });

  // Source: AgIsoStack++ test/diagnostic_protocol_tests.cpp, "MessageEncoding": the identification text and the frames.
  it('addressed exchange with request, clearance and acknowledgement', () => {
    const text = '1234*9876*The Internet*AgISOStack*None*Some Hardware ID*';
    const hex = [...text].map((letter) => letter.charCodeAt(0).toString(16).padStart(2, '0'));
    const packets = Array.from({ length: 8 }, (_, p) => `1CEBABAA#0${p + 1}${hex.slice(7 * p, 7 * p + 7).join('')}`);
    const messages = assemble(createTransportAssembler(), [
      '1CECABAA#1038000810C5FD00',
      '18ECAAAB#110801FFFFC5FD00',
      ...packets,
      '18ECAAAB#13380008FFC5FD00',
    ]);
    expect(messages).toHaveLength(1);
    expect(messages[0]).toMatchObject({ pgn: 0xfdc5, sourceAddress: 0xaa, destinationAddress: 0xab });
    expect(String.fromCharCode(...(messages[0]?.payload ?? []))).toBe(text);
  });
});

describe('raw status, pretty_j1939 tests/test_spn_indicator_vectors.py', () => {
  const vectors: readonly (readonly [bits: number, startBit: number, payload: string, status: RawStatus])[] = [
    [2, 0, '0200000000000000', 'error'],
    [2, 0, '0300000000000000', 'not-available'],
    [4, 4, 'E000000000000000', 'error'],
    [4, 4, 'F000000000000000', 'not-available'],
    [5, 0, '1E00000000000000', 'error'],
    [5, 0, '1F00000000000000', 'not-available'],
    [7, 0, '7E00000000000000', 'error'],
    [7, 0, '7F00000000000000', 'not-available'],
    [8, 8, '00FB000000000000', 'parameter-specific'],
    [8, 8, '00FC000000000000', 'reserved'],
    [8, 8, '00FD000000000000', 'reserved'],
    [8, 8, '00FE000000000000', 'error'],
    [8, 8, '00FF000000000000', 'not-available'],
    [16, 16, '000000FB00000000', 'parameter-specific'],
    [16, 16, '0000FFFB00000000', 'parameter-specific'],
    [16, 16, '000000FC00000000', 'reserved'],
    [16, 16, '0000FFFD00000000', 'reserved'],
    [16, 16, '000000FE00000000', 'error'],
    [16, 16, '0000FFFE00000000', 'error'],
    [16, 16, '000000FF00000000', 'not-available'],
    [16, 16, '0000FFFF00000000', 'not-available'],
    [32, 32, '00000000000000FB', 'parameter-specific'],
    [32, 32, '00000000FFFFFFFB', 'parameter-specific'],
    [32, 32, '00000000000000FC', 'reserved'],
    [32, 32, '00000000FFFFFFFD', 'reserved'],
    [32, 32, '00000000000000FE', 'error'],
    [32, 32, '00000000FFFFFFFE', 'error'],
    [32, 32, '00000000000000FF', 'not-available'],
    [32, 32, '00000000FFFFFFFF', 'not-available'],
  ];

  it.each(vectors)('%i bits at bit %i of %s: %s', (bits, startBit, payload, status) => {
    expect(rawStatus(bits, readBits(bytes(payload), startBit, bits))).toBe(status);
  });

  // Source: SAE J1939-71 (2012) data ranges: the largest engine speed is 64255 x 0.125 = 8031.875 rpm.
  it('takes the largest value of each length as data', () => {
    expect(rawStatus(8, 0xfa)).toBe('valid');
    expect(rawStatus(16, 64255)).toBe('valid');
    expect(rawStatus(32, 0xfaffffff)).toBe('valid');
    expect(decodeSignals(61444, bytes('FFFFFF FFFA FFFFFF')).find((signal) => signal.spn === 190)?.value).toBe(
      8031.875,
    );
  });
});
