/** The duty of late: means that forget. */

/** Running time over which a mean forgets, in seconds. Source: engineering judgement, about a shift. */
const dutyTauS = 8 * 3600;
const keepPerS = Math.exp(-1 / dutyTauS);

/** Share of a mean that is left after so many milliseconds; exact for any step. */
export function dutyKeep(heldMs: number): number {
  return heldMs === 1000 ? keepPerS : Math.exp(-heldMs / 1000 / dutyTauS);
}
