import {
  formatClock,
  formatInstant,
  formatInstantShort,
  hourMarks,
  minuteOfDay,
  zoneLabel,
  zoneOf,
} from '@warmbrick/console';
import { describe, expect, it } from 'vitest';

const at = (text: string) => Date.parse(text);

describe('clocks', () => {
  // Source: IANA tz database: Europe/Oslo goes from UTC+1 to UTC+2 on 29 March 2026 at 01:00 UTC (EU rule).
  it('follows the summer time of a zone', () => {
    expect(formatClock(at('2026-03-29T00:59:00Z'), 'Europe/Oslo')).toBe('01:59');
    expect(formatClock(at('2026-03-29T01:00:00Z'), 'Europe/Oslo')).toBe('03:00');
    expect(zoneLabel('Europe/Oslo', at('2026-03-28T12:00:00Z'))).toBe('Europe/Oslo (UTC+1)');
    expect(zoneLabel('Europe/Oslo', at('2026-03-30T12:00:00Z'))).toBe('Europe/Oslo (UTC+2)');
  });

  // Source: IANA tz database: Asia/Kathmandu is UTC+5:45; America/St_Johns is UTC-3:30 in winter.
  it('knows zones off the hour', () => {
    expect(formatClock(at('2026-01-10T00:00:00Z'), 'Asia/Kathmandu')).toBe('05:45');
    expect(zoneLabel('America/St_Johns', at('2026-01-10T00:00:00Z'))).toBe('America/St Johns (UTC−3:30)');
  });

  it('writes midnight as 00:00', () => {
    expect(formatClock(at('2026-03-17T00:00:00Z'), 'UTC')).toBe('00:00');
    expect(minuteOfDay(at('2026-03-17T23:59:00Z'), 'UTC')).toBe(1439);
  });

  it('adds the day and the year only where they are needed', () => {
    const nowMs = at('2026-03-17T13:20:00Z');
    expect(formatInstantShort(at('2026-03-17T09:05:00Z'), 'UTC', nowMs)).toBe('09:05');
    expect(formatInstantShort(at('2026-03-16T09:05:00Z'), 'UTC', nowMs)).toBe('16 Mar 09:05');
    expect(formatInstant(at('2025-03-17T09:05:00Z'), 'UTC', nowMs)).toBe('17 Mar 2025 09:05');
    // The same day a year before is not today.
    expect(formatInstantShort(at('2025-03-17T09:05:00Z'), 'UTC', nowMs)).toBe('17 Mar 2025 09:05');
  });

  it('shows UTC rather than nothing for a zone that the browser lacks', () => {
    expect(formatClock(at('2026-03-17T13:20:00Z'), 'Mars/Olympus')).toBe('13:20');
    expect(zoneOf('utc', 'Europe/Oslo')).toBe('UTC');
    expect(zoneOf('machine', 'Europe/Oslo')).toBe('Europe/Oslo');
  });
});

describe('hour marks', () => {
  it('stand at every sixth hour of the zone', () => {
    const marks = hourMarks(at('2026-03-16T13:15:00Z'), 900, 96, 'Europe/Oslo');
    expect(marks.map((mark) => mark.label)).toEqual(['18:00', '00:00', '06:00', '12:00']);
    expect(marks[0]?.positionRatio).toBeCloseTo(15 / 96, 12);
    expect(marks.map((mark) => mark.isMidnight)).toEqual([false, true, false, false]);
  });

  it('find the full hours of a zone off the hour', () => {
    const marks = hourMarks(at('2026-03-16T00:00:00Z'), 900, 96, 'Asia/Kathmandu');
    expect(marks.map((mark) => mark.label)).toEqual(['06:00', '12:00', '18:00', '00:00']);
  });
});
