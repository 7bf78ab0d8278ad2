/** GET of a JSON body by its address; what the client has a function for is asked with that. */

import { call, type Fetched } from './call.js';

export type { Fetched } from './call.js';

/** Fetches a body of the API. Missing and errors: as `call`. */
export function fetchJson<T>(url: string, signal?: AbortSignal): Promise<Fetched<T> | null> {
  return call('GET', url, signal === undefined ? {} : { signal });
}
