/** Builds the duty of one shift from an operator's habit. */

import { type DutySegment, layOut, type TimedSegment } from './duty.js';
import type { HabitTraits, Span } from './habits.js';
import type { Random } from './random.js';

/** Latest start into the shift, s. Source: engineering judgement. */
const latestStartS = 720;
/** The machine is parked this long before the shift ends, s. Source: engineering judgement. */
const parkedBeforeEndS = 900;
/** Shortest stretch of work worth planning, s. Source: engineering judgement. */
const shortestWorkS = 300;
/** Shifts shorter than this have no meal break, s. Source: engineering judgement. */
const shiftWithBreakS = 5 * 3600;

export interface Shift {
  readonly startMs: number;
  readonly endMs: number;
}

/**
 * Segments from the first key-on of the shift to its last key-off, with the breaks between.
 *
 * Shapes: contiguous; begins with a start and ends before the shift does. A shift too short for work gives none.
 */
export function planShift(shift: Shift, traits: HabitTraits, random: Random): TimedSegment[] {
  const shiftS = (shift.endMs - shift.startMs) / 1000;
  const draw = (span: Span): number => Math.round(random.between(span[0], span[1]));
  const startS = draw([60, latestStartS]);
  const coolDownS = draw(traits.coolDownS);
  const lastLoadS = shiftS - parkedBeforeEndS - coolDownS;
  const segments: DutySegment[] = [{ kind: 'start', durationS: draw(traits.warmUpS), preheatS: draw([4, 14]) }];
  let atS = startS + (segments[0] as DutySegment).durationS;
  if (lastLoadS - atS < shortestWorkS) return [];
  const add = (segment: DutySegment): void => {
    segments.push(segment);
    atS += segment.durationS;
  };
  let breakIsDue = shiftS >= shiftWithBreakS;
  while (lastLoadS - atS >= shortestWorkS) {
    add(workStretch(Math.min(draw(traits.workS), lastLoadS - atS), traits, random));
    if (breakIsDue && atS > shiftS * 0.45 && lastLoadS - atS > traits.breakS[1] + 3600) {
      breakIsDue = false;
      for (const segment of mealBreak(traits, draw)) add(segment);
      continue;
    }
    const isLong = random.next() < traits.longPauseRatio;
    const pauseS = draw(isLong ? traits.longPauseS : traits.pauseS);
    if (lastLoadS - atS > pauseS + shortestWorkS) add({ kind: 'idle', durationS: pauseS });
    else if (lastLoadS - atS < shortestWorkS) break;
  }
  add({ kind: 'cool-down', durationS: coolDownS });
  return layOut(segments, shift.startMs + startS * 1000);
}

function workStretch(durationS: number, traits: HabitTraits, random: Random): DutySegment {
  const whole = Math.max(1, Math.round(durationS));
  if (random.next() < traits.lightRatio) {
    return { kind: 'light', durationS: whole, loadPct: random.between(28, 36) };
  }
  return { kind: 'work', durationS: whole, loadPct: random.between(...traits.workLoadPct) };
}

function mealBreak(traits: HabitTraits, draw: (span: Span) => number): DutySegment[] {
  if (!traits.isOffAtBreak) return [{ kind: 'idle', durationS: draw(traits.breakS) }];
  return [
    { kind: 'cool-down', durationS: draw(traits.coolDownS) },
    { kind: 'off', durationS: draw(traits.breakS) },
    { kind: 'start', durationS: Math.min(120, draw(traits.warmUpS)) },
  ];
}
