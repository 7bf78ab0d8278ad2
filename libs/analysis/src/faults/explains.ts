/** Which faults bring which others with them. */

import type { Trouble } from './trouble.js';

/** Supply and network. Their failing shows as circuit faults everywhere. */
export const supplySpns: readonly number[] = [168, 158, 620, 627, 629, 639, 1231];
/** Failure modes of circuits and messages. Source: SAE J1939-73. */
const circuitFmis: readonly number[] = [2, 3, 4, 5, 6, 8, 9, 12, 19];
/** A failing supply shows elsewhere within this, ms. Source: engineering judgement. */
const supplyReachMs = 10 * 60_000;

/**
 * Parameter numbers that follow from a number going wrong.
 * Source: engineering judgement from how the systems hang together; none of it is of a maker.
 */
const followers: readonly { readonly from: readonly number[]; readonly to: readonly number[] }[] = [
  // No DEF, bad DEF, no dosing: pressure goes, then conversion.
  { from: [1761, 3517], to: [4334, 4374, 4331, 5392, 4364, 3226] },
  { from: [3364, 3516, 3518, 3521], to: [4334, 4374, 4331, 4364, 3226, 3216] },
  {
    from: [3361, 3362, 4331, 4334, 4374, 4375, 4376, 5392, 5394, 5435, 5485, 4332, 4792],
    to: [4334, 4331, 5392, 4364, 3226, 4792],
  },
  {
    from: [3363, 4354, 4355, 4356, 4357, 5491, 5745, 5746, 5798],
    to: [3031, 3515, 4337, 4334, 4374, 4331, 5392, 4364, 3226],
  },
  { from: [3031, 3515], to: [4334, 4374, 4331, 5392, 4364, 3226] },
  { from: [3216], to: [4364, 3226] },
  { from: [3226], to: [4364] },
  // EGR, air, filter.
  { from: [27, 2791, 411], to: [2659, 412, 102, 105, 3226, 4364, 3719, 3251] },
  { from: [107, 106], to: [102, 103, 173, 3719, 3251, 1127] },
  { from: [641, 2795, 103], to: [102, 1127, 173, 2659, 3719, 3251] },
  { from: [52], to: [105] },
  {
    from: [3241, 3242, 3245, 3246, 3249, 4765, 4766, 3471, 3479, 3480, 3481, 3482, 3556],
    to: [3711, 3713, 3719, 3251, 3936, 3750],
  },
  { from: [3703, 3711, 3713, 3750], to: [3719, 3251, 3936] },
  { from: [3719, 3251, 3609, 81], to: [3719, 3251, 3936, 3609, 81, 102, 173] },
  // Coolant, oil, fuel.
  { from: [111], to: [110, 175, 105] },
  { from: [110], to: [175, 105, 177] },
  { from: [98], to: [100] },
  { from: [97, 94, 1347], to: [157, 94] },
];

/** Whether an earlier trouble makes a later one no surprise. */
export function explains(earlier: Trouble, later: Trouble): boolean {
  const [a, b] = [earlier.anchor.spn, later.anchor.spn];
  if (earlier === later) return false;
  if (a === b && earlier.anchor.sourceAddress === later.anchor.sourceAddress && !isSensorOf(later, earlier)) {
    return !earlier.isMild || later.isMild;
  }
  if (supplySpns.includes(a)) {
    const isNear = Math.abs(later.anchorMs - earlier.anchorMs) <= supplyReachMs;
    return isNear && circuitFmis.includes(later.anchor.fmi) && !supplySpns.includes(b);
  }
  if (isSensorOf(earlier, later)) return true;
  return followers.some(({ from, to }) => from.includes(a) && to.includes(b) && a !== b);
}

/** Whether the one is the sensor of the quantity that the other says is off. */
export function isSensorOf(sensor: Trouble, value: Trouble): boolean {
  const channel = sensor.description.known?.channel ?? null;
  if (channel === null || channel !== value.description.known?.channel) return false;
  return !sensor.description.isOfValue && value.description.isOfValue;
}
