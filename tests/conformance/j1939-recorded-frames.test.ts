/**
 * Frames of recorded logs (real machines) with the project's own decodes of them. They are no published values: they were
 * worked out from the public signal tables and hold because they are plausible for the machine they came from, which a
 * wrong place or scale would not be. The published ones stand in `j1939-published-frames.test.ts`.
 */

import { decodeFaults, decodeSignals, parseCanId } from '@warmbrick/j1939';
import { describe, expect, it } from 'vitest';
import { bytes, frame } from '../j1939/frames.js';

type RecordedFrame = readonly [text: string, values: Readonly<Record<number, number>>, notAvailable: readonly number[]];

const frames: readonly RecordedFrame[] = [
  ['18FD9B00#3A82FFFFFFF3FFFF', { 3515: 18, 3516: 32.5, 3521: 3 }, [3518, 3519, 3520]],
  ['18FE5600#FA3AFFFF1F1FC8FF', { 1761: 100, 3031: 18, 5245: 0, 5246: 0, 3363: 80 }, [3517, 3532, 4365, 4366]],
  ['18FE56A3#FF4DD602FFFFFFFF', { 3031: 37, 3517: 72.6 }, [1761, 3532, 5245, 4365, 5246, 3363, 4366]],
  ['18FD7B55#30FF7B250000EA4C', { 3719: 48, 3721: 9595, 5466: 49.225 }, [3720]],
  ['18FD7B00#00FFDDB700001F55', { 3719: 0, 3721: 47069, 5466: 54.4775 }, [3720]],
  ['18FD3E00#7340FF0C3CFFFFFF', { 4360: 242.59375, 4363: 207.375 }, [4361, 4362]],
  ['14FD3E00#632BFF2C2BFFFFFF', { 4360: 74.09375, 4363: 72.375 }, [4361, 4362]],
  ['18F00E00#821639C4FFFFFFFF', { 3216: 88.1, 3217: 13.81976 }, [3218, 3219, 3220, 3221, 3222, 3223, 3224]],
  ['18F00E00#5E20FE71FFFFFFFF', { 3216: 214.3, 3217: 2.99955 }, [3218, 3219, 3220, 3221, 3222, 3223, 3224]],
  ['18F00F00#FFFAFFFFFFFFFFFF', { 3226: 3012.75 }, [3227, 3228, 3229, 3230, 3231, 3232, 3233, 3234]],
  ['18F00F00#180FFFFFD59FFFFF', { 3226: -6.8, 3228: 1, 3229: 1, 3230: 1, 3233: 0 }, [3227, 3231, 3232, 3234]],
  [
    '18FD7C00#F880F1F500CF03FC',
    {
      3697: 0,
      3699: 0,
      3700: 0,
      3701: 0,
      3702: 1,
      3703: 0,
      3706: 1,
      3707: 1,
      3710: 0,
      3711: 0,
      3712: 0,
      3713: 0,
      3716: 0,
      3698: 0,
      4175: 0,
      5504: 0,
    },
    [3704, 3705, 3708, 3709, 3714, 3715, 3717, 3718, 5629],
  ],
  [
    '18FD7C00#F8830000C30F03FF',
    {
      3697: 0,
      3700: 0,
      3701: 0,
      3702: 0,
      3703: 0,
      3704: 0,
      3705: 0,
      3706: 0,
      3707: 0,
      3708: 0,
      3709: 0,
      3711: 0,
      3712: 0,
      3716: 0,
      3717: 0,
      3698: 0,
      4175: 0,
    },
    [3699, 3710, 3713, 3714, 3715, 3718, 5504, 5629],
  ],
  [
    '18FD7C00#F8F3F3FFFFFFE3FF',
    { 3697: 0, 3700: 0, 3703: 0, 3698: 0 },
    [
      3699, 3701, 3702, 3704, 3705, 3706, 3707, 3708, 3709, 3710, 3711, 3712, 3713, 3714, 3715, 3716, 3717, 3718, 4175,
      5504, 5629,
    ],
  ],
  ['18FEF600#00015833FFA331FF', { 173: 124.09375, 105: 48, 102: 2, 106: 102, 81: 0 }, [107]],
  ['18FEE500#DF5D02004D550000', { 247: 7755.15, 249: 21837000 }, []],
  ['18FEDC00#AE190000727C0000', { 235: 1592.9, 236: 3287 }, []],
  ['18FEE500#BC0D040083AE0D00', { 247: 13283, 249: 896643000 }, []],
  ['18FDB400#FC44A344FFFFFFFF', { 3241: 278.875, 3242: 276.09375 }, [3243, 3244]],
  ['0CF00300#D10000FFFFFF00FF', { 92: 0, 91: 0, 558: 1, 3357: 0 }, [974, 5399, 5400]],
  ['0CF02300#0000FFFFFFFFFFFF', { 4331: 0 }, [4332, 4333, 4334]],
  ['18F02300#0000F0FFFF00FFFF', { 4331: 0, 4332: 0, 4334: 0 }, [4333]],
  ['18FEEE00#5CFF9227FFFFFFFF', { 110: 52, 175: 43.5625 }, []],
  ['18FEF700#FFFF2A023002FFFF', { 168: 28, 167: 27.7 }, [158]],
  ['0CF00400#03A9A94D14FFFFFF', { 190: 649.625, 512: 44, 513: 44, 899: 3, 4154: 0 }, [2432]],
];

describe('recorded frames', () => {
  it.each(frames)('%s', (text, values, notAvailable) => {
    const { id, payload } = frame(text);
    const decoded = decodeSignals(parseCanId(id).pgn, payload);
    const valid = decoded.filter((signal) => signal.status === 'valid').map((signal) => signal.spn);
    expect(valid).toEqual(expect.arrayContaining(Object.keys(values).map(Number)));
    expect(decoded).toHaveLength(Object.keys(values).length + notAvailable.length);
    for (const { spn, value, status } of decoded) {
      const expected = values[spn];
      if (expected !== undefined) expect(value, `SPN ${spn}`).toBeCloseTo(expected, 5);
      else expect([spn, status]).toEqual([notAvailable.find((known) => known === spn), 'not-available']);
    }
  });
});

describe('recorded trouble codes', () => {
  it.each([
    ['7302057F', 627, 5, null],
    ['900C1402', 3216, 20, 2],
    ['ED141F01', 5357, 31, 1],
    // A parameter number that needs all 19 bits.
    ['C8FFFF21', 524232, 31, 33],
  ])('%s is SPN %i FMI %i, seen %s times', (code, spn, fmi, occurrenceCount) => {
    expect(decodeFaults(bytes(`00FF${code}`)).codes).toEqual([{ spn, fmi, occurrenceCount, conversionMethod: 0 }]);
  });
});
