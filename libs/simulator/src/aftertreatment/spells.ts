/** Stretches of time in which something holds, turned into truth when they end. */

import type { TruthEvent } from '../truth.js';

/** The event of a spell as it stands when it ends at a time. */
export type SpellEnd = (endedMs: number) => TruthEvent;

/**
 * A set of named spells.
 *
 * `begins` is asked every second with whether something holds: it ends a spell that is over, and says when a new one has
 * to be opened. Nothing is made in the seconds between.
 */
export function createSpells(events: TruthEvent[]) {
  const open = new Map<string, SpellEnd>();
  return {
    begins(name: string, isOn: boolean, timeMs: number): boolean {
      const end = open.get(name);
      if (isOn) return end === undefined;
      if (end !== undefined) {
        open.delete(name);
        events.push(end(timeMs));
      }
      return false;
    },
    open(name: string, end: SpellEnd): void {
      open.set(name, end);
    },
    /** What is going on, as if it ended now. */
    ongoing: (timeMs: number): TruthEvent[] => [...open.values()].map((end) => end(timeMs)),
  };
}
