/** GET /v1/machines/:machineId/sample-columns: every sample of some hours, packed, for the bench page. */

import { promisify } from 'node:util';
import { gzip } from 'node:zlib';
import { analysedChannels } from '@warmbrick/analysis';
import { packColumns, sampleColumnsType } from '@warmbrick/contracts';
import { sliceBlock } from '@warmbrick/signals';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { machineParamsSchema, machineProblems } from './route-schemas.js';

const zipped = promisify(gzip);
/** Time in one answer at most: a day of 30 channels at 1 Hz is 11 MB in memory and 1-2 MB on the way. */
const mostMs = 25 * 3_600_000;

const instant = z.iso.datetime({ offset: true });
const query = z.strictObject({ from: instant, to: instant });

/** Archived samples as they are, with the channels that the analysis reads. */
export function sampleColumnRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/sample-columns',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Every archived sample of up to a day, as packed columns',
          tags: ['machines'],
          params: machineParamsSchema,
          querystring: query,
          produces: [sampleColumnsType],
          response: {
            200: z.unknown().meta({ description: 'Packed columns, see libs/contracts.' }),
            ...machineProblems,
          },
        },
      },
      async ({ params: { machineId }, query: { from, to }, store, headers }, reply) => {
        const fromMs = Date.parse(from);
        const toMs = Date.parse(to);
        if (!(toMs > fromMs) || toMs - fromMs > mostMs || fromMs < 0) {
          throw new ProblemError(
            'invalid-request',
            '"to" has to lie after "from", and no more than 25 hours after it.',
          );
        }
        const profile = await store.loadProfile(machineId);
        if (profile === null) throw new ProblemError('machine-not-found', `No machine "${machineId}" is known.`);
        const blocks = await store.readSamples({ machineId, fromMs, toMs, channels: [...analysedChannels] });
        const within = blocks.map((block) => cut(block, fromMs, toMs)).filter((block) => block.timeMs.length > 0);
        const bytes = packColumns(within);
        reply.header('content-type', sampleColumnsType).header('vary', 'accept-encoding');
        if (!/\bgzip\b/.test(headers['accept-encoding'] ?? '')) return reply.send(Buffer.from(bytes.buffer));
        reply.header('content-encoding', 'gzip');
        return reply.send(await zipped(bytes, { level: 1 }));
      },
    );
  };
}

function cut(block: Parameters<typeof sliceBlock>[0], fromMs: number, toMs: number) {
  let from = 0;
  let to = block.timeMs.length;
  while (from < to && (block.timeMs[from] as number) < fromMs) from++;
  while (to > from && (block.timeMs[to - 1] as number) >= toMs) to--;
  return sliceBlock(block, from, to);
}
