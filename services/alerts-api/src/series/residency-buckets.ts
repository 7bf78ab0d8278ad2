/** Buckets of residency in the machine's own time zone: quarters, hours, shifts and days of its calendar. */

import type { ResidencyBucket } from '@warmbrick/contracts';
import type { MachineProfile } from '@warmbrick/signals';
import { rowMs } from './residency-sum.js';
import { addLocalDays, instantOfLocalTime, type LocalTime, localTimeAt, zoneOffsetMs } from './zone-time.js';

export interface BucketBounds {
  readonly startMs: number;
  readonly endMs: number;
  /** Name of the shift, null for the other buckets. */
  readonly shift: string | null;
}

export interface BucketRequest {
  readonly bucket: ResidencyBucket;
  readonly profile: Pick<MachineProfile, 'timeZone' | 'shifts'>;
  readonly fromMs: number;
  readonly toMs: number;
}

const hourMs = 3_600_000;

/**
 * The buckets that overlap [fromMs, toMs), in order of their start. Days and shifts follow the wall clock, so on the
 * days when clocks change they are an hour longer or shorter; an hour that comes twice is two buckets; a date that a
 * zone skipped has none.
 */
export function residencyBucketBounds(request: BucketRequest): BucketBounds[] {
  const all = request.bucket === 'day' || request.bucket === 'shift' ? calendarBuckets(request) : clockBuckets(request);
  return all
    .filter((bounds) => bounds.endMs > bounds.startMs)
    .filter((bounds) => bounds.endMs > request.fromMs && bounds.startMs < request.toMs)
    .sort((a, b) => a.startMs - b.startMs);
}

function clockBuckets({ bucket, profile, fromMs, toMs }: BucketRequest): BucketBounds[] {
  const stepMs = bucket === 'quarter' ? rowMs : hourMs;
  const found: BucketBounds[] = [];
  let startMs = Number.NEGATIVE_INFINITY;
  for (let atMs = Math.floor(fromMs / rowMs) * rowMs; atMs < toMs; atMs += rowMs) {
    const offsetMs = zoneOffsetMs(profile.timeZone, atMs);
    const bucketStartMs = Math.floor((atMs + offsetMs) / stepMs) * stepMs - offsetMs;
    if (bucketStartMs <= startMs) continue;
    startMs = bucketStartMs;
    found.push({ startMs, endMs: startMs + stepMs, shift: null });
  }
  return found.map((bounds, at) => ({ ...bounds, endMs: Math.min(bounds.endMs, found[at + 1]?.startMs ?? Infinity) }));
}

function calendarBuckets({ bucket, profile, fromMs, toMs }: BucketRequest): BucketBounds[] {
  const spans = bucket === 'day' ? [{ name: null, start: '00:00', end: '00:00' }] : profile.shifts;
  const found: BucketBounds[] = [];
  // A shift that began yesterday may reach into the range.
  let date = addLocalDays(localTimeAt(profile.timeZone, fromMs), -1);
  for (;;) {
    const midnightMs = instantOfLocalTime(profile.timeZone, { ...date, minuteOfDay: 0 });
    if (midnightMs >= toMs) return found;
    for (const span of spans) found.push(spanOn(profile.timeZone, date, span));
    date = addLocalDays(date, 1);
  }
}

function spanOn(
  timeZone: string,
  date: LocalTime,
  span: { name: string | null; start: string; end: string },
): BucketBounds {
  const startMinute = minuteOf(span.start);
  const endMinute = minuteOf(span.end);
  const endDate = endMinute <= startMinute ? addLocalDays(date, 1) : date;
  const startMs = instantOfLocalTime(timeZone, { ...date, minuteOfDay: startMinute });
  const endMs = instantOfLocalTime(timeZone, { ...endDate, minuteOfDay: endMinute });
  return { startMs, endMs, shift: span.name };
}

function minuteOf(clock: string): number {
  const [hours = '0', minutes = '0'] = clock.split(':');
  return Number(hours) * 60 + Number(minutes);
}
