/** Duty: what is done with a machine, as a row of segments. */

/** Key off and standing. The engine runs down within seconds of the start of this segment. */
export interface OffSegment {
  readonly kind: 'off';
  readonly durationS: number;
}

/** Key to run, preheating, cranking, then low idle without load for the rest of the time. */
export interface StartSegment {
  readonly kind: 'start';
  readonly durationS: number;
  /** Wait for the intake preheater before cranking. Default 6. */
  readonly preheatS?: number;
}

/** Base idle without load; `cool-down` differs from `idle` only in what the operator means by it. */
export interface IdleSegment {
  readonly kind: 'idle' | 'cool-down';
  readonly durationS: number;
}

/** Load at raised speed. Light duty moves the machine; work digs, lifts or hauls. */
export interface LoadSegment {
  readonly kind: 'light' | 'work';
  readonly durationS: number;
  /** Mean load of the segment. Default 33 for light, 72 for work. */
  readonly loadPct?: number;
  /** Deviation of the load around its mean. Default 4 for light, 12 for work. */
  readonly spreadPct?: number;
}

/** A piece of a prescribed cycle: speed and torque go in a straight line from here to there. */
export interface CycleSegment {
  readonly kind: 'cycle';
  readonly durationS: number;
  readonly speedRpm: readonly [from: number, to: number];
  /** Share of the torque that there is at that speed, 0..1. */
  readonly torqueRatio: readonly [from: number, to: number];
}

export type DutySegment = OffSegment | StartSegment | IdleSegment | LoadSegment | CycleSegment;

/** A segment with its place in time; times are whole seconds. */
export interface TimedSegment {
  readonly startMs: number;
  readonly endMs: number;
  readonly segment: DutySegment;
}

/** Puts segments one after the other from a point in time. */
export function layOut(segments: readonly DutySegment[], startMs: number): TimedSegment[] {
  let at = startMs;
  return segments.map((segment) => {
    const placed = { startMs: at, endMs: at + Math.max(1, Math.round(segment.durationS)) * 1000, segment };
    at = placed.endMs;
    return placed;
  });
}
