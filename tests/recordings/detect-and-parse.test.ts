import { fc, test } from '@fast-check/vitest';
import { createTimeParser, detectFormat, parseTime } from '@warmbrick/recordings';
import { describe, expect } from 'vitest';

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);

describe('detectFormat', () => {
  test.each([
    ['candump', '(1733457531.704817) can0 08F01D13#847D20FF108AF551\n'],
    ['candump', ' (000.000000)  can0  18FCF200   [8]  E1 FF FF FF FF FF FF FF\n'],
    ['can-csv', ',time,pgn,priority,source,destination,data,description\n0,0.0,60928,6,71,255,4D ,x\n'],
    ['csv', 'machineId,time,exhaustTempC\n'],
    ['csv', '\uFEFF"time";"exhaustTempC"\r\n'],
    ['csv', '\n\ntime\texhaustTempC\n'],
    ['ndjson', '  {"time":1}\n'],
    ['parquet', 'PAR1....'],
    [null, 'no separator in sight\n'],
    [null, '\u0000\u0001\u0002,\u0003\n'],
    [null, '   \n\n'],
  ])('tells %s', (format, text) => {
    expect(detectFormat(bytes(text))).toBe(format);
  });

  test.prop([fc.uint8Array({ maxLength: 300 })])('never throws', (head) => {
    detectFormat(head);
  });

  test('survives a character cut at the end of the head', () => {
    const text = bytes('time,exhaustTempC,bemærkning\n');
    expect(detectFormat(text.subarray(0, 23))).toBe('csv');
  });
});

describe('parseTime', () => {
  // Source of the first four: RFC 3339, 5.8, examples; the values from date -u -d.
  test.each([
    ['1985-04-12T23:20:50.52Z', 482_196_050_520],
    ['1996-12-19T16:39:57-08:00', 851_042_397_000],
    ['1990-12-31T23:59:60Z', 662_688_000_000],
    ['1990-12-31T15:59:60-08:00', 662_688_000_000],
    ['2024-06-01t06:00:00z', 1_717_221_600_000],
    ['2024-06-01 06:00:00+00:00', 1_717_221_600_000],
    ['2024-06-01T06:00:00.9999Z', 1_717_221_600_999],
    ['2024-02-29T00:00:00Z', 1_709_164_800_000],
    ['1717221600000', 1_717_221_600_000],
    ['1717221600000.9', 1_717_221_600_000],
    ['0', 0],
    ['2100-01-01T00:00:00Z', 4_102_444_800_000],
  ])('reads %s', (text, timeMs) => {
    expect(parseTime(text)).toBe(timeMs);
  });

  test.each([
    '',
    'now',
    '2024-06-01',
    '2024-06-01T06:00:00',
    '2024-06-01T24:00:00Z',
    '2024-06-01T06:60:00Z',
    '2024-06-01T06:00:61Z',
    '2023-02-29T00:00:00Z',
    '2024-13-01T00:00:00Z',
    '2024-04-31T00:00:00Z',
    '2024-06-01T06:00:00+25:00',
    '1969-12-31T23:59:59.999Z',
    '2100-01-01T00:00:00.001Z',
    '-1',
    '1e12',
    '0x10',
    'NaN',
  ])('refuses "%s"', (text) => {
    expect(parseTime(text)).toBeNaN();
  });

  const whole = fc.date({ min: new Date(0), max: new Date(4_102_444_800_000), noInvalidDate: true });
  test.prop([whole])('reads back what toISOString writes', (date) => {
    expect(parseTime(date.toISOString())).toBe(date.getTime());
  });

  test.prop([
    fc.array(
      fc.oneof(
        whole.map((date) => date.toISOString()),
        whole.map((date) => date.toISOString().replace(/\.\d+/, '')),
        fc.stringMatching(/^2024-06-01T06:0[0-9]:[0-9x]{2}(\.[0-9x]{3})?Z$/),
      ),
      { maxLength: 30 },
    ),
  ])('has the same answers with a memory of the last minute', (texts) => {
    const parse = createTimeParser();
    expect(texts.map(parse)).toEqual(texts.map(parseTime));
  });
});
