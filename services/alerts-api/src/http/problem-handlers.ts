/** Answers every error, every unknown address and every wrong method with a problem document. */

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { ProblemError, problemDocument, problemKind, problemOf, retryAfterS } from './problem.js';
import { createRouteTable } from './route-table.js';

export interface ProblemHandlerOptions {
  /** Answers a page path of the console; false when the path is not one of its pages. */
  readonly sendPage: (request: FastifyRequest, reply: FastifyReply) => boolean;
}

/** Installs the handlers on the whole app; call it before any route is added. */
export function installProblemHandlers(app: FastifyInstance, options: ProblemHandlerOptions): void {
  const routes = createRouteTable();
  app.addHook('onRoute', (route) => routes.add(route.url, route.method));

  app.setErrorHandler((error, request, reply) => {
    const problem = problemOf(error);
    if (problem === null) request.log.error({ err: error, route: request.routeOptions.url }, 'request failed');
    return sendProblem(reply, problem ?? new ProblemError('internal-error', 'It was logged. Please try again later.'));
  });

  // Before the body is read, so that a body sent to the wrong place is not looked at.
  app.addHook('onRequest', async (request, reply) => {
    if (!request.is404) return;
    const allowed = routes.methodsOf(pathOf(request));
    if (allowed.length === 0) return;
    reply.header('Allow', allowed.join(', '));
    throw new ProblemError('method-not-allowed', `${request.method} is not possible here; ${allowed.join(', ')} is.`);
  });

  app.setNotFoundHandler((request, reply) => {
    if (options.sendPage(request, reply)) return reply;
    throw new ProblemError('not-found', `Nothing is served at ${pathOf(request)}.`);
  });
}

/** Path of a request without its query, cut to a length that is safe to repeat. */
export function pathOf(request: FastifyRequest): string {
  return (request.url.split('?', 1)[0] ?? '').slice(0, 200);
}

/** Answers with a problem document. */
export function sendProblem(reply: FastifyReply, problem: ProblemError): FastifyReply {
  const { status } = problemKind(problem.code);
  // Source: RFC 9110, 11.6.1, and RFC 6750, 3.
  if (status === 401) reply.header('WWW-Authenticate', 'Bearer realm="warmbrick"');
  if (status === 503) reply.header('Retry-After', retryAfterS);
  return reply
    .code(status)
    .header('Cache-Control', 'no-store')
    .type('application/problem+json')
    .serializer((body: unknown) => JSON.stringify(body))
    .send(problemDocument(problem, pathOf(reply.request)));
}
