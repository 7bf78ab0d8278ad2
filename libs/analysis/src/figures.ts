/** How figures are written into events. */

/** Milliseconds as seconds with three decimals. */
export function inSeconds(lengthMs: number): number {
  return Math.round(lengthMs) / 1000;
}

/** A number rounded to so many decimals. */
export function rounded(value: number, decimals: number): number {
  const scale = 10 ** decimals;
  return Math.round(value * scale) / scale;
}

/** A figure that may be missing, rounded; NaN and infinities are missing. */
export function roundedOrNull(value: number | null, decimals: number): number | null {
  return value === null || !Number.isFinite(value) ? null : rounded(value, decimals);
}
