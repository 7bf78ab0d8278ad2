/** Headers that tell a browser what our pages may do: everything from ourselves, nothing inline, in no frame. */

import type { FastifyInstance } from 'fastify';

/** Source: W3C Content Security Policy Level 3. */
const contentPolicy = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data:",
  "font-src 'self'",
  "connect-src 'self'",
  "worker-src 'self'",
  "manifest-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

/**
 * Source: OWASP HTTP Headers Cheat Sheet. Strict-Transport-Security is left to whoever puts TLS in front: over plain
 * HTTP it says nothing.
 */
const securityHeaders = {
  'Content-Security-Policy': contentPolicy,
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Resource-Policy': 'same-origin',
  'Origin-Agent-Cluster': '?1',
  'Permissions-Policy': 'camera=(), geolocation=(), microphone=(), payment=(), usb=()',
  'Referrer-Policy': 'no-referrer',
  'X-Content-Type-Options': 'nosniff',
  'X-Frame-Options': 'DENY',
} as const;

/** Adds the headers to every answer, errors included. */
export function installSecurityHeaders(app: FastifyInstance): void {
  app.addHook('onRequest', async (_request, reply) => {
    reply.headers(securityHeaders);
  });
}
