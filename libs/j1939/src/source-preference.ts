/** Which controller to believe when several send the same group. */

/**
 * Addresses asked first, best first: engine; exhaust emission controller; particulate filter controller; DEF quality
 * sensor; inlet and outlet gas sensors. Source: names of pretty_j1939's address table; order is a design decision.
 */
const preferredAddresses: readonly number[] = [0, 61, 85, 163, 81, 82];

/** Place of an address in the order of preference; lower is better. Unlisted ones follow by number. */
export function sourceRank(sourceAddress: number): number {
  const listed = preferredAddresses.indexOf(sourceAddress);
  return listed >= 0 ? listed : preferredAddresses.length + sourceAddress;
}
