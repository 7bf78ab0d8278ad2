import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { quietUntilMs } from '../../services/notifier/src/quiet-hours.js';
import { nextTryMs, usualRetrySchedule } from '../../services/notifier/src/retry-schedule.js';

const at = (text: string) => Date.parse(text);
const iso = (ms: number | null) => (ms === null ? null : new Date(ms).toISOString());

describe('the next try', () => {
  const failed = { attempts: 1, firstTriedMs: 0, nowMs: 0, retryAfterMs: null };

  it('waits twice as long each time, between half and all of it', () => {
    expect(nextTryMs(failed, usualRetrySchedule, 0)).toBe(2500);
    expect(nextTryMs(failed, usualRetrySchedule, 1)).toBe(5000);
    expect(nextTryMs({ ...failed, attempts: 4 }, usualRetrySchedule, 1)).toBe(40_000);
    expect(nextTryMs({ ...failed, attempts: 500 }, usualRetrySchedule, 1)).toBe(usualRetrySchedule.longestMs);
  });

  it('is no sooner than the receiver wishes', () => {
    expect(nextTryMs({ ...failed, retryAfterMs: 60_000 }, usualRetrySchedule, 0)).toBe(60_000);
  });

  it('goes on for a day and no longer, whatever the jitter', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: 40, maxLength: 40 }), (jitter) => {
        let nowMs = 0;
        let attempts = 0;
        for (const random of jitter) {
          attempts++;
          const next = nextTryMs({ attempts, firstTriedMs: 0, nowMs, retryAfterMs: null }, usualRetrySchedule, random);
          if (next === null) break;
          expect(next).toBeGreaterThan(nowMs);
          nowMs = next;
        }
        expect(nowMs).toBeLessThanOrEqual(24 * 3_600_000);
        expect(nowMs).toBeGreaterThan(18 * 3_600_000);
        expect(attempts).toBeGreaterThan(12);
        expect(attempts).toBeLessThan(40);
      }),
    );
  });
});

describe('quiet hours', () => {
  const night = { timeZone: 'Europe/Oslo', fromMinute: 22 * 60, toMinute: 6 * 60 };

  it('end in the morning of the local clock', () => {
    expect(iso(quietUntilMs(night, at('2026-11-10T23:30:12Z')))).toBe('2026-11-11T05:00:00.000Z');
    expect(quietUntilMs(night, at('2026-11-10T12:00:00Z'))).toBeNull();
    expect(quietUntilMs(night, at('2026-11-11T05:00:00Z'))).toBeNull();
    expect(iso(quietUntilMs(night, at('2026-11-10T21:00:00Z')))).toBe('2026-11-11T05:00:00.000Z');
  });

  // Source: EU Directive 2000/84/EC: clocks change at 01:00 UTC on the last Sundays of March and October.
  it('follow the clock when it changes', () => {
    expect(iso(quietUntilMs(night, at('2027-03-28T00:30:00Z')))).toBe('2027-03-28T04:00:00.000Z');
    expect(iso(quietUntilMs(night, at('2026-10-25T00:30:00Z')))).toBe('2026-10-25T05:00:00.000Z');
  });

  it('may lie within a day, and all day is none', () => {
    const noon = { timeZone: 'UTC', fromMinute: 12 * 60, toMinute: 13 * 60 };
    expect(iso(quietUntilMs(noon, at('2026-11-10T12:59:59Z')))).toBe('2026-11-10T13:00:00.000Z');
    expect(quietUntilMs(noon, at('2026-11-10T13:00:00Z'))).toBeNull();
    expect(quietUntilMs({ timeZone: 'UTC', fromMinute: 0, toMinute: 0 }, at('2026-11-10T12:00:00Z'))).toBeNull();
  });
});
