/** GET /v1/machines/:machineId/samples. */

import { type SampleSeries, sampleQuerySchema, sampleSeriesSchema } from '@warmbrick/contracts';
import { type ChannelName, channelNames, isChannelName } from '@warmbrick/signals';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { ProblemError } from '../http/problem.js';
import { createSampleBuckets } from '../series/sample-buckets.js';
import { sendTable, seriesResponse, wantedFormat } from '../tables/send-series.js';
import type { Table } from '../tables/table.js';
import { queryRange } from './query-range.js';
import { machineParamsSchema, machineProblems, requireMachine } from './route-schemas.js';

/** Days at most. Source: the contract: two months of any length. */
const mostDays = 62;
/** Archive read at a time; a day of 20 channels at 1 Hz is 7 MB in memory. Source: engineering judgement. */
const sliceMs = 86_400_000;

/** Archived samples of one machine, thinned to lowest, mean and highest by bucket. */
export function sampleRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/samples',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Archived samples, as lowest, mean and highest by bucket of time',
          tags: ['machines'],
          params: machineParamsSchema,
          querystring: sampleQuerySchema,
          response: { 200: seriesResponse(sampleSeriesSchema), ...machineProblems },
        },
      },
      async (request, reply) => {
        const { machineId } = request.params;
        const { store } = request;
        const { buckets, channels: names, format, ...asked } = request.query;
        const channels = names === undefined ? undefined : parseChannels(names);
        const { lastSampleMs, summary } = await requireMachine(store, machineId);
        const { fromMs, toMs } = queryRange(asked, { usualToMs: lastSampleMs + 1, usualDays: 1, mostDays });
        const series = createSampleBuckets({ fromMs, toMs, most: buckets });
        const endMs = Math.min(toMs, lastSampleMs + 1);
        for (let atMs = Math.max(fromMs, summary.observed.fromMs); atMs < endMs; atMs += sliceMs) {
          const slice = { machineId, fromMs: atMs, toMs: Math.min(atMs + sliceMs, endMs), channels };
          // The archive keeps samples in chunks; whatever of a chunk lies outside the slice belongs to another slice.
          for (const block of await store.readSamples(slice)) series.add(block, slice);
        }
        const finished = series.finish();
        const form = wantedFormat(request, format);
        if (form === 'json') return reply.send(finished);
        return sendTable(reply, form, { name: `${machineId} samples`, table: sampleTable(finished) });
      },
    );
  };
}

function sampleTable({ startedAt, channels }: SampleSeries): Table {
  const columns = Object.entries(channels).flatMap(([name, series]) =>
    (['min', 'mean', 'max'] as const).map(
      (which) => ({ name: `${name}_${which}`, kind: 'number', values: series[which] }) as const,
    ),
  );
  const times = { name: 'startedAt', kind: 'time', values: startedAt.map((text) => Date.parse(text)) } as const;
  return { length: startedAt.length, columns: [times, ...columns] };
}

function parseChannels(text: string): ChannelName[] {
  const names = text.split(',').map((name) => name.trim());
  const unknown = names.filter((name) => !isChannelName(name));
  if (unknown.length === 0) return [...new Set(names.filter(isChannelName))];
  const message = `No such channel: ${unknown.join(', ')}. Known are ${channelNames.join(', ')}.`;
  throw new ProblemError('invalid-request', message.slice(0, 2000), [{ path: 'query.channels', message }]);
}
