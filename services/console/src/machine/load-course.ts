/** An amount against its limit as two courses of bricks, laid as far as the amount reaches. */

/** Drawing units: one is a hundredth of the limit; beyond the limit there is room for this much more. */
const limitAt = 100;
export const courseReach = 118;
const brickLength = 10;
const joint = 0.9;
/** The doubt is drawn over the bricks. */
const doubtHeight = 5;
const brickHeight = 8;
const rowPitch = 9;
export const loadCourseHeight = doubtHeight + 2 * rowPitch;
/** Less of a brick than this is not drawn. */
const leastLength = 0.4;

export interface LoadCourse {
  /** Bricks laid up to the amount or the limit, whichever comes first. */
  readonly laid: string;
  /** Empty places from there to the limit. */
  readonly open: string;
  /** Bricks beyond the limit. */
  readonly over: string;
  /** From the least to the most that the amount may be; null when that is not known. */
  readonly doubt: string | null;
}

/**
 * Paths of the courses, in drawing units; the limit stands at 100.
 *
 * Range: a ratio below 0 is drawn as 0; what lies beyond `courseReach` is cut.
 */
export function loadCourse(ratio: number, doubtRatio: number | null): LoadCourse {
  const filled = Math.min(courseReach, Math.max(0, ratio * limitAt));
  const paths = { laid: '', open: '', over: '' };
  for (const row of [0, 1]) {
    // Running bond: the upper course starts with half a brick.
    const y = doubtHeight + (1 - row) * rowPitch;
    for (let start = row === 0 ? 0 : -brickLength / 2; start < courseReach; start += brickLength) {
      const end = Math.min(courseReach, start + brickLength - joint);
      paths.laid += box(Math.max(0, start), Math.min(end, filled, limitAt), y);
      paths.open += box(Math.max(0, start, filled), Math.min(end, limitAt), y);
      paths.over += box(Math.max(start, limitAt + joint), Math.min(end, filled), y);
    }
  }
  return { ...paths, doubt: doubtRatio === null ? null : bracket(ratio, doubtRatio) };
}

function box(start: number, end: number, y: number): string {
  return end - start < leastLength ? '' : `M${round(start)} ${y}H${round(end)}v${brickHeight}H${round(start)}z`;
}

function bracket(ratio: number, doubtRatio: number): string {
  const at = (edge: number) => round(Math.min(courseReach - 0.5, Math.max(0.5, edge * limitAt)));
  return `M${at(ratio - doubtRatio)} 0.5v3.5M${at(ratio - doubtRatio)} 2.2H${at(ratio + doubtRatio)}M${at(ratio + doubtRatio)} 0.5v3.5`;
}

function round(value: number): number {
  return Math.round(value * 100) / 100;
}
