/**
 * /v1/session: signing in on the console's pages, and /v1/caller: who is asking.
 *
 * The key stays in a cookie that no script can read and that no other site's request carries. A script's own storage would
 * be open to every script on the page, and the event stream cannot send a header.
 */

import { type CallerDocument, callerSchema, sessionBodySchema } from '@warmbrick/contracts';
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { Access } from '../access/access.js';
import { type Caller, localAdmin, sessionCookieName } from '../access/caller.js';
import { siteOf } from '../access/same-site.js';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const tags = ['access'];

/** Signing in and out. */
export function sessionRoutes(access: Access): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/caller',
      {
        config: { role: 'viewer' },
        schema: { summary: 'Who is asking, and what they may do', tags, response: { 200: callerSchema } },
      },
      async ({ caller }) => callerDocument(caller),
    );

    app.post(
      '/session',
      {
        config: { role: 'open', audit: false },
        schema: {
          summary: 'Signs in on the pages: puts a key or token into a cookie that scripts cannot read',
          tags,
          body: sessionBodySchema,
          response: {
            200: callerSchema,
            ...problemResponses([
              'invalid-request',
              'key-invalid',
              'cross-site',
              'too-many-requests',
              'store-unavailable',
            ]),
          },
        },
      },
      async (request, reply) => {
        if (siteOf(request) === 'foreign') throw new ProblemError('cross-site', 'Sign in on our own pages.');
        const { key } = request.body;
        if (!/^[\w.~+/-]+=*$/.test(key)) throw new ProblemError('key-invalid', 'This does not look like a key.');
        // As if it had come in the header, so that there is one way to check a key.
        request.headers.authorization = `Bearer ${key}`;
        const caller = await access.identify(request);
        if (caller === null) throw new ProblemError('key-invalid', 'This is no key that is known here.');
        setCookie(request, reply, key);
        return callerDocument(caller);
      },
    );

    app.delete(
      '/session',
      {
        config: { role: 'open', audit: false },
        schema: {
          summary: 'Signs out on the pages',
          tags,
          response: { 204: z.null().meta({ description: 'Signed out.' }), ...problemResponses(['cross-site']) },
        },
      },
      async (request, reply) => {
        if (siteOf(request) === 'foreign') throw new ProblemError('cross-site', 'Sign out on our own pages.');
        setCookie(request, reply, '');
        reply.code(204);
        return null;
      },
    );
  };
}

/** Source: RFC 6265bis, 4.1.2: HttpOnly, SameSite, Secure; without Max-Age it goes when the browser is closed. */
function setCookie(request: FastifyRequest, reply: FastifyReply, value: string): void {
  const isSecure = request.headers.origin?.startsWith('https:') === true;
  const end = value === '' ? '; Max-Age=0' : '';
  const secure = isSecure ? '; Secure' : '';
  reply.header('Set-Cookie', `${sessionCookieName}=${value}; Path=/v1; HttpOnly; SameSite=Strict${secure}${end}`);
}

function callerDocument(caller: Caller): CallerDocument {
  const fleets = caller.fleets === 'all' ? ('all' as const) : [...caller.fleets];
  return { ...caller, fleets, isSignedIn: caller.keyId !== localAdmin.keyId };
}
