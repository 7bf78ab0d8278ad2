/** POST, PUT or DELETE to an address; what the client has a function for is sent with that. */

import { call, type Fetched } from './call.js';

export interface Sending {
  readonly method: 'POST' | 'PUT' | 'PATCH' | 'DELETE';
  readonly body?: unknown;
  /** Content type; JSON if not given, and then the body is written as JSON. */
  readonly type?: string;
}

/** Sends once. Missing and errors: as `call`, which nobody calls off here. */
export async function sendJson<T>(url: string, { method, ...parts }: Sending): Promise<Fetched<T>> {
  return (await call<T>(method, url, parts)) as Fetched<T>;
}
