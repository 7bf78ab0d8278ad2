/** Slows down whoever tries one wrong key after another. */

const windowMs = 60_000;
const addressesRemembered = 10_000;

export interface FailureLimit {
  isOver(address: string): boolean;
  note(address: string): void;
}

/** Counts failures by address and allows so many in a minute. `now` is a clock in milliseconds. */
export function createFailureLimit(mostFailures: number, now: () => number = () => performance.now()): FailureLimit {
  const counts = new Map<string, { startMs: number; failures: number }>();
  const current = (address: string) => {
    const known = counts.get(address);
    return known === undefined || now() - known.startMs >= windowMs ? undefined : known;
  };
  return {
    isOver: (address) => (current(address)?.failures ?? 0) > mostFailures,
    note(address) {
      const known = current(address) ?? { startMs: now(), failures: 0 };
      known.failures++;
      counts.delete(address);
      if (counts.size >= addressesRemembered) counts.delete(counts.keys().next().value as string);
      counts.set(address, known);
    },
  };
}
