/** Whether a request that changes something comes from our own pages. Source: Fetch Metadata Request Headers (W3C), RFC 6454. */

import type { FastifyRequest } from 'fastify';

/**
 * `own`: a browser says that our page sent it. `foreign`: another site's page did. `unsaid`: no browser, or an old one.
 */
export function siteOf(request: FastifyRequest): 'own' | 'foreign' | 'unsaid' {
  const site = request.headers['sec-fetch-site'];
  const { origin } = request.headers;
  if (site !== undefined && site !== 'same-origin' && site !== 'none') return 'foreign';
  if (origin !== undefined && hostOf(origin) !== request.host) return 'foreign';
  return site === undefined && origin === undefined ? 'unsaid' : 'own';
}

function hostOf(origin: string): string | null {
  try {
    return new URL(origin).host;
  } catch {
    return null;
  }
}
