/** Headers that tell a browser what our pages may do: everything from ourselves, nothing inline, in no frame. */

import helmet from '@fastify/helmet';
import type { FastifyInstance } from 'fastify';

/** Source: W3C Content Security Policy Level 3. */
const directives = {
  defaultSrc: ["'none'"],
  scriptSrc: ["'self'"],
  styleSrc: ["'self'"],
  imgSrc: ["'self'", 'data:'],
  fontSrc: ["'self'"],
  connectSrc: ["'self'"],
  workerSrc: ["'self'"],
  manifestSrc: ["'self'"],
  baseUri: ["'none'"],
  formAction: ["'none'"],
  frameAncestors: ["'none'"],
};

/** Features of a browser that no page of ours uses; helmet does not set this header. */
const permissions = 'camera=(), geolocation=(), microphone=(), payment=(), usb=()';

/**
 * Adds the headers to every answer, errors included.
 *
 * Source: OWASP HTTP Headers Cheat Sheet. Strict-Transport-Security is left to whoever puts TLS in front: over plain HTTP it
 * says nothing.
 */
export async function installSecurityHeaders(app: FastifyInstance): Promise<void> {
  await app.register(helmet, {
    contentSecurityPolicy: { useDefaults: false, directives },
    strictTransportSecurity: false,
    xFrameOptions: { action: 'deny' },
    referrerPolicy: { policy: 'no-referrer' },
  });
  app.addHook('onRequest', async (_request, reply) => {
    reply.header('Permissions-Policy', permissions);
  });
}
