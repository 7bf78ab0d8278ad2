/** Clock marks along a course. */

import { formatClock, minuteOfDay } from '../format/instant.js';

export interface HourMark {
  /** Position along the course. */
  readonly positionRatio: number;
  readonly label: string;
  readonly isMidnight: boolean;
}

/** Marks stand at every sixth hour of the clock. */
const markEveryMin = 360;

/**
 * Marks at 00, 06, 12 and 18 o'clock of the zone that fall on the start of a bucket.
 *
 * Units: `startedMs` epoch ms, `bucketS` seconds. Range: positions from 0 to below 1.
 */
export function hourMarks(startedMs: number, bucketS: number, buckets: number, timeZone: string): HourMark[] {
  const marks: HourMark[] = [];
  for (let bucket = 0; bucket < buckets; bucket += 1) {
    const timeMs = startedMs + bucket * bucketS * 1000;
    const minute = minuteOfDay(timeMs, timeZone);
    if (minute % markEveryMin !== 0) continue;
    marks.push({ positionRatio: bucket / buckets, label: formatClock(timeMs, timeZone), isMidnight: minute === 0 });
  }
  return marks;
}
