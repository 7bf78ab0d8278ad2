/** What protects the process and the browser: headers, host names, rates, pressure, compression. */

import { constants } from 'node:zlib';
import compress from '@fastify/compress';
import rateLimit from '@fastify/rate-limit';
import type { FastifyInstance } from 'fastify';
import { ProblemError } from './problem.js';
import { installSecurityHeaders } from './security-headers.js';

/** Requests of one key, or of one address without a key, in a minute. Source: engineering judgement: twice the 500/s of the performance budget. */
export const usualRequestsPerMinute = 60_000;
/** Keys and addresses whose rate is remembered. Source: engineering judgement. */
const addressesRemembered = 10_000;
/** Answers smaller than this are not worth compressing, in bytes. Source: common practice. */
const compressFromBytes = 1400;
/** Quality of brotli and gzip for answers made on the fly. Source: common practice: higher ones cost more than they save. */
const compressionQuality = 4;

export interface GuardOptions {
  readonly requestsPerMinute: number;
  /** Host names (without port) that are served; undefined serves any. Keeps a foreign page from rebinding its name to us. */
  readonly hostNames: readonly string[] | undefined;
}

/** Installs the guards on the whole app. */
export async function installGuards(app: FastifyInstance, options: GuardOptions): Promise<void> {
  await installSecurityHeaders(app);
  const { hostNames } = options;
  if (hostNames !== undefined) {
    app.addHook('onRequest', async (request) => {
      if (hostNames.includes(request.hostname.toLowerCase())) return;
      throw new ProblemError('misdirected-request', `Use one of these host names: ${hostNames.join(', ')}.`);
    });
  }
  await app.register(rateLimit, {
    max: options.requestsPerMinute,
    timeWindow: 60_000,
    cache: addressesRemembered,
    // Several keys behind one address do not hold each other up; open routes have no caller.
    keyGenerator: (request) => (request.caller === undefined ? request.ip : request.caller.keyId),
    errorResponseBuilder: (_request, context) =>
      new ProblemError('too-many-requests', `At most ${context.max} requests a minute. Try again in ${context.after}.`),
  });
  await app.register(compress, {
    encodings: ['br', 'gzip'],
    threshold: compressFromBytes,
    brotliOptions: { params: { [constants.BROTLI_PARAM_QUALITY]: compressionQuality } },
    zlibOptions: { level: compressionQuality },
  });
}
