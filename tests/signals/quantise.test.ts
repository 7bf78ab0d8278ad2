import { fc, test } from '@fast-check/vitest';
import {
  type ChannelName,
  channelNames,
  channels,
  createColumn,
  isWideChannel,
  quantise,
  quantiseColumn,
} from '@warmbrick/signals';
import { describe, expect } from 'vitest';

const anyChannel = fc.constantFrom(...channelNames);
const anyValue = fc.oneof(
  fc.double({ min: -500, max: 20_000 }),
  fc.double(),
  fc.constantFrom(Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, -0, 0),
);

function narrow(name: ChannelName, value: number): number {
  return isWideChannel(name) ? value : Math.fround(value);
}

describe('quantise', () => {
  test('rounds to the step of the wire', () => {
    // Source: SAE J1939-71, SPN 190 has 0.125 rpm per bit.
    expect(quantise('engineSpeedRpm', 950.07)).toBe(950.125);
    // Source: SAE J1939-71, SPN 110 has 1 degC per bit and an offset of -40 degC.
    expect(quantise('coolantTempC', 84.5)).toBe(85);
    // Source: SAE J1939-71, SPN 247 has 0.05 h per bit.
    expect(quantise('engineHours', 12_345.678)).toBeCloseTo(12_345.7, 9);
  });

  test('gives no value outside the range', () => {
    expect(quantise('engineSpeedRpm', -1)).toBeNaN();
    expect(quantise('exhaustTempC', 1100.1)).toBeNaN();
    expect(quantise('exhaustTempC', Number.POSITIVE_INFINITY)).toBeNaN();
  });

  test('keeps the ends of every range', () => {
    for (const name of channelNames) {
      for (const end of [channels[name].min, channels[name].max]) {
        const once = quantise(name, narrow(name, end));
        expect(quantise(name, once), name).toBe(once);
      }
    }
  });

  test('never gives a negative zero', () => {
    for (const name of channelNames) expect(Object.is(quantise(name, -0), -0)).toBe(false);
  });

  test.prop([anyChannel, anyValue])('is idempotent', (name, value) => {
    const once = quantise(name, value);
    expect(quantise(name, once)).toBe(once);
  });

  test.prop([anyChannel, anyValue])('is at most half a step away', (name, value) => {
    const result = quantise(name, value);
    if (!Number.isNaN(result))
      expect(Math.abs(result - value)).toBeLessThanOrEqual(
        channels[name].resolution * 0.50001 + 1e-3 * Math.abs(value) * 1e-3,
      );
  });

  test.prop([anyChannel, anyValue])('is a 32-bit float for a narrow channel', (name, value) => {
    const result = quantise(name, value);
    if (!isWideChannel(name)) expect(Math.fround(result)).toBe(result);
  });
});

describe('quantiseColumn', () => {
  test.prop([anyChannel, fc.array(anyValue, { maxLength: 50 })])(
    'does to each value what quantise does',
    (name, values) => {
      const column = createColumn(name, values.length);
      column.set(values);
      const implausible = quantiseColumn(name, column);
      const expected = values.map((value) => quantise(name, narrow(name, value)));
      expect([...column]).toEqual(expected);
      const dropped = values.filter(
        (value) => !Number.isNaN(value) && Number.isNaN(quantise(name, narrow(name, value))),
      );
      expect(implausible).toBe(dropped.length);
    },
  );
});
