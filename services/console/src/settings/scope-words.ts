/** Fleets of a key in words. */

/** Such as "all fleets", "the fleet north" or "the fleets north, south". */
export function scopeWords(fleets: 'all' | readonly string[]): string {
  if (fleets === 'all') return 'all fleets';
  if (fleets.length === 0) return 'no fleet';
  return fleets.length === 1 ? `the fleet ${fleets[0]}` : `the fleets ${fleets.join(', ')}`;
}
