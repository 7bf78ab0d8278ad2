/** Who asks, and what each route wants of whoever asks. */

import type { Role } from '@warmbrick/contracts';
import type { Store } from '@warmbrick/store';

/** Who sent a request. */
export interface Caller {
  /** Id of the API key; `local` for this computer itself, `token:` and the subject for a bearer token. */
  readonly keyId: string;
  /** Name of the key, for people. */
  readonly name: string;
  readonly role: Role;
  /** Fleets whose machines it may see and change. */
  readonly fleets: 'all' | readonly string[];
}

/** Least role of a route; `open` for what anybody who can connect may have: health and the console's files. */
export type RouteRole = Role | 'open';

/** Whoever sits at this computer, while the service listens there only and nobody has made a key. */
export const localAdmin: Caller = { keyId: 'local', name: 'this computer', role: 'admin', fleets: 'all' };

/** Cookie of the console's sign-in. */
export const sessionCookieName = 'warmbrick-session';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** The least role that may call the route. A route without it is for admins. */
    role?: RouteRole;
  }
  interface FastifyRequest {
    /** Who asks. Absent on open routes. */
    caller: Caller;
    /** The store, confined to the caller's fleets. Absent on open routes. */
    store: Store;
  }
}
