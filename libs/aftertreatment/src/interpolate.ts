/** Reading between the points of a table. */

/** A table: rising x with one y each. Shapes: both of the same length, two points at least. */
export interface Curve {
  readonly x: readonly number[];
  readonly y: readonly number[];
}

/**
 * Value of a curve at x, by straight lines between its points.
 *
 * Range: outside the table the nearest end holds, so the result never leaves the range of the table and is monotone
 * wherever the table is. Missing: NaN gives NaN.
 */
export function interpolate(curve: Curve, x: number): number {
  const { x: xs, y: ys } = curve;
  if (x !== x) return Number.NaN;
  if (x <= (xs[0] as number)) return ys[0] as number;
  for (let i = 1; i < xs.length; i++) {
    const right = xs[i] as number;
    if (x <= right) {
      const left = xs[i - 1] as number;
      const base = ys[i - 1] as number;
      return base + (((ys[i] as number) - base) * (x - left)) / (right - left);
    }
  }
  return ys[ys.length - 1] as number;
}
