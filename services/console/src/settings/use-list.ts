/** A list of the server that the settings page shows and changes. */

import { type Signal, useSignal } from '@preact/signals';
import type { Problem } from '@warmbrick/contracts';
import { useEffect } from 'preact/hooks';
import type { Fetched } from '../api/call.js';

export interface ServerList<T> {
  /** Null until it came. */
  readonly items: Signal<readonly T[] | null>;
  readonly problem: Signal<Problem | null>;
  load(): Promise<void>;
  /** Sends a change and takes the list anew; the answer, or null when it was refused, which `problem` says. */
  change<A>(sent: Promise<Fetched<A> | null>): Promise<A | null>;
}

/** Loads a list when it is first shown. */
export function useList<T>(fetchItems: () => Promise<Fetched<{ readonly items: readonly T[] }> | null>): ServerList<T> {
  const items = useSignal<readonly T[] | null>(null);
  const problem = useSignal<Problem | null>(null);
  const load = async () => {
    const answer = await fetchItems();
    if (answer === null) return;
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) items.value = answer.body.items;
  };
  useEffect(() => void load(), []);
  return {
    items,
    problem,
    load,
    change: async (sent) => {
      const answer = await sent;
      if (answer?.ok === true) {
        await load();
        return answer.body;
      }
      problem.value = answer?.problem ?? null;
      return null;
    },
  };
}
