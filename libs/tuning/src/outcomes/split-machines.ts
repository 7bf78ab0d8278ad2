/** Parting machines, or time, into what a set is fitted to and what it is judged by. */

import { type RandomSource, shuffled } from './random.js';

export interface Split {
  readonly tuning: readonly string[];
  readonly heldOut: readonly string[];
}

/** Share of the machines that a set is judged by. Source: engineering judgement. */
export const usualHeldOutRatio = 0.4;

/**
 * Parts machines at random within each class, so that both parts hold the same kinds of work.
 *
 * Range: with two machines or more, both parts have at least one; the same seed and machines give the same parts.
 */
export function splitMachines(
  machines: readonly { readonly machineId: string; readonly machineClass: string }[],
  random: RandomSource,
  heldOutRatio = usualHeldOutRatio,
): Split {
  const sorted = [...machines].sort((a, b) => (a.machineId < b.machineId ? -1 : 1));
  const classes = [...new Set(sorted.map((one) => one.machineClass))].sort();
  // Drawn order within each class, the classes one after the other: taking evenly along it keeps the shares.
  const row = classes.flatMap((name) => {
    const own = sorted.filter((one) => one.machineClass === name);
    return shuffled(random, own.length).map((i) => (own[i] as { machineId: string }).machineId);
  });
  const wanted = Math.min(row.length - 1, Math.max(1, Math.round(row.length * heldOutRatio)));
  const heldOut = row.filter(
    (_, i) => Math.floor(((i + 1) * wanted) / row.length) > Math.floor((i * wanted) / row.length),
  );
  const out = new Set(heldOut);
  return { tuning: row.filter((id) => !out.has(id)).sort(), heldOut: heldOut.sort() };
}
