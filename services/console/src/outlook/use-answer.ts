/** Asking an address from a component. */

import { type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Fetched } from '../api/call.js';
import { fetchJson } from '../api/fetch-json.js';

/** The answer of an address, or what went wrong; asked for again when the mark changes. Missing: null until it came. */
export function useAnswer<T>(url: string, mark: string): Signal<Fetched<T> | null> {
  const answer = useSignal<Fetched<T> | null>(null);
  useEffect(() => {
    const abort = new AbortController();
    void fetchJson<T>(url, abort.signal).then((fetched) => {
      // What was shown stays while a later answer does not come.
      if (fetched !== null && (fetched.ok || answer.value?.ok !== true)) answer.value = fetched;
    });
    return () => abort.abort();
  }, [url, mark]);
  return answer;
}
