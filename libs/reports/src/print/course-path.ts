/** Where the line of a small course goes; the same for page and PDF. */

export interface CourseBox {
  readonly width: number;
  readonly height: number;
}

/** Runs of connected points within the box, y downwards. A single point between gaps is a run of its own. */
export type CourseRuns = readonly (readonly (readonly [x: number, y: number])[])[];

/**
 * Lays a course into a box between its lowest and highest value; a flat one runs through the middle.
 *
 * Missing: nulls break the line. A course without a value has no run.
 */
export function courseRuns(course: readonly (number | null)[], { width, height }: CourseBox): CourseRuns {
  const values = course.filter((value) => value !== null);
  const low = Math.min(...values);
  const span = Math.max(...values) - low;
  const step = course.length > 1 ? width / (course.length - 1) : 0;
  const runs: [number, number][][] = [];
  let run: [number, number][] | null = null;
  for (const [at, value] of course.entries()) {
    if (value === null) {
      run = null;
      continue;
    }
    if (run === null) {
      run = [];
      runs.push(run);
    }
    run.push([at * step, span === 0 ? height / 2 : height - ((value - low) / span) * height]);
  }
  return runs;
}
