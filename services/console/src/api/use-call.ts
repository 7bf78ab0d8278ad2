/** Asking the API from a component. */

import { type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Fetched } from './call.js';

/**
 * The answer, or what went wrong; asked for again when the mark changes, which names everything that the question hangs on.
 *
 * Missing: null until it came.
 */
export function useCall<T>(
  ask: (signal: AbortSignal) => Promise<Fetched<T> | null>,
  mark: string,
): Signal<Fetched<T> | null> {
  const answer = useSignal<Fetched<T> | null>(null);
  useEffect(() => {
    const abort = new AbortController();
    void ask(abort.signal).then((fetched) => {
      // What was shown stays while a later answer does not come.
      if (fetched !== null && (fetched.ok || answer.value?.ok !== true)) answer.value = fetched;
    });
    return () => abort.abort();
  }, [mark]);
  return answer;
}
