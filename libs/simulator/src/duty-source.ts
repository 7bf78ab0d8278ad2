/** Gives a machine's duty segment by segment, for as long as it is asked. */

import type { MachineProfile } from '@warmbrick/signals';
import { localDay, shiftsOfDay } from './calendar.js';
import { type DutySegment, layOut, type TimedSegment } from './duty.js';
import { type Habit, traitsByHabit } from './habits.js';
import { planShift } from './plan-shift.js';
import { createRandom, seedFrom } from './random.js';

/** Never ends; segments are contiguous. */
export type DutySource = () => TimedSegment;

/** A standing machine is given in segments of this length, s. Source: design decision. */
const standingS = 86_400;

/** The given segments once, then off. */
export function scheduledDuty(segments: readonly DutySegment[], startMs: number): DutySource {
  const placed = layOut(segments, startMs);
  let at = 0;
  let endMs = placed.at(-1)?.endMs ?? startMs;
  return () => {
    const next = placed[at++] ?? off(endMs, endMs + standingS * 1000);
    endMs = next.endMs;
    return next;
  };
}

/** Shift after shift as the operators of this habit do it, from the beginning of a local day. */
export function habitualDuty(
  habit: Habit,
  profile: MachineProfile,
  from: { timeMs: number; seed: number },
): DutySource {
  const waiting: TimedSegment[] = [];
  let day = localDay(from.timeMs, profile.timeZone);
  let endMs = from.timeMs;
  const planDay = (): void => {
    for (const [number, shift] of shiftsOfDay(day, profile).entries()) {
      const random = createRandom(seedFrom(from.seed, 'shift', day, number));
      for (const segment of planShift(shift, traitsByHabit[habit], random)) waiting.push(segment);
    }
    day++;
  };
  return () => {
    for (let tries = 0; waiting.length === 0 && tries < 2; tries++) planDay();
    const head = waiting[0];
    const isDue = head !== undefined && head.startMs <= endMs;
    const next = isDue ? head : off(endMs, head?.startMs ?? endMs + standingS * 1000);
    if (isDue) waiting.shift();
    endMs = next.endMs;
    return next;
  };
}

function off(startMs: number, endMs: number): TimedSegment {
  return { startMs, endMs, segment: { kind: 'off', durationS: (endMs - startMs) / 1000 } };
}
