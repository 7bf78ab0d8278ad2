/** A rest that somebody else can cut short. */

export interface Nudge {
  /** Ends the rest at hand; without one, the next. */
  poke(): void;
  /** Resolves after a time, at a poke, or at the signal. */
  rest(ms: number, signal: AbortSignal): Promise<void>;
}

/** Makes one for a single sleeper. */
export function createNudge(): Nudge {
  let isPoked = false;
  let wake: (() => void) | null = null;
  return {
    poke() {
      isPoked = true;
      wake?.();
    },
    async rest(ms, signal) {
      if (!isPoked && !signal.aborted) {
        await new Promise<void>((resolve) => {
          const timer = setTimeout(resolve, ms);
          wake = () => {
            clearTimeout(timer);
            resolve();
          };
          signal.addEventListener('abort', wake, { once: true });
        });
        if (wake !== null) signal.removeEventListener('abort', wake);
        wake = null;
      }
      isPoked = false;
    },
  };
}
