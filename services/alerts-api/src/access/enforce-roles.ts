/** Lets a request through to a route only if its caller has the route's role, and confines its store. */

import { mayActAs } from '@warmbrick/contracts';
import type { Store } from '@warmbrick/store';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { ProblemError } from '../http/problem.js';
import type { Caller, RouteRole } from './caller.js';

export interface RoleOptions {
  readonly store: Store;
  /** Tells who sent a request; null when nothing says so. Errors: a problem for a key that is not valid. */
  readonly identify: (request: FastifyRequest) => Promise<Caller | null>;
}

/** Installs the check on the whole app; call it before any route is added. */
export function enforceRoles(app: FastifyInstance, { store, identify }: RoleOptions): void {
  app.decorateRequest('caller');
  app.decorateRequest('store');
  app.addHook('onRequest', async (request) => {
    if (request.is404) return;
    const role = leastRole(request);
    if (role === 'open') return;
    const caller = await identify(request);
    if (caller === null) throw new ProblemError('key-missing', keyWanted);
    // Before the check, so that the audit log can tell whom it turned away.
    request.caller = caller;
    if (!mayActAs(caller.role, role)) {
      throw new ProblemError('role-too-low', `This takes the role ${role}; "${caller.name}" has ${caller.role}.`);
    }
    request.store = store.forFleets(caller.fleets);
  });
}

/** The role a route asks for. Missing: a route that declares none is for admins. */
function leastRole(request: FastifyRequest): RouteRole {
  return request.routeOptions.config.role ?? 'admin';
}

const keyWanted = 'Send an API key or a token in the header "Authorization: Bearer ...".';
