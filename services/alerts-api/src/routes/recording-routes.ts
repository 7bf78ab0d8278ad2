/** /v1/machines/:machineId/recordings: of which days samples are archived, and the samples of a day as they came. */

import {
  archivedDayListSchema,
  archiveQuerySchema,
  recordingQuerySchema,
  seriesMediaTypes,
  toInstant,
} from '@warmbrick/contracts';
import { blockChannels, type ChannelName, channelNames, type SampleBlock } from '@warmbrick/signals';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { sendTable } from '../tables/send-series.js';
import type { Table } from '../tables/table.js';
import { machineParamsSchema, machineProblems, problemResponses, requireMachine } from './route-schemas.js';

const dayMs = 86_400_000;
const tags = ['recordings'];

/** Archived days, newest first; each can be replayed elsewhere with the `warmbrick` command. */
export function recordingRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/recordings',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'UTC days of which samples of one machine are archived, newest first',
          tags,
          params: machineParamsSchema,
          querystring: archiveQuerySchema,
          response: { 200: archivedDayListSchema, ...machineProblems },
        },
      },
      async ({ params: { machineId }, query, store }) => {
        await requireMachine(store, machineId);
        const { items, nextCursor } = await store.listArchivedDays({ machineId, ...query });
        const days = items.map((day) => ({
          day: toInstant(day.dayMs).slice(0, 10),
          from: toInstant(day.fromMs),
          to: toInstant(day.toMs),
          samples: day.samples,
        }));
        return { items: days, nextCursor };
      },
    );

    app.get(
      '/machines/:machineId/recordings/:day',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'All samples of one machine and UTC day, as they were archived',
          tags,
          params: machineParamsSchema.extend({ day: z.iso.date() }),
          querystring: recordingQuerySchema,
          response: {
            200: {
              description: 'A recording that `warmbrick replay` reads.',
              content: {
                [seriesMediaTypes.csv]: { schema: z.string() },
                [seriesMediaTypes.parquet]: { schema: z.string().meta({ format: 'binary' }) },
              },
            },
            ...machineProblems,
            ...problemResponses(['recording-not-found', 'machine-not-found']),
          },
        },
      },
      async ({ params: { machineId, day }, query: { format }, store }, reply) => {
        await requireMachine(store, machineId);
        const fromMs = Date.parse(`${day}T00:00:00Z`);
        const blocks = await store.readSamples({ machineId, fromMs, toMs: fromMs + dayMs });
        if (blocks.length === 0) {
          throw new ProblemError('recording-not-found', `No sample of "${machineId}" is archived of ${day}.`);
        }
        return sendTable(reply, format, { name: `${machineId} ${day}`, table: sampleTable(machineId, blocks) });
      },
    );
  };
}

/** One row a sample; channels in the order of the catalogue, those that no block has left out. */
function sampleTable(machineId: string, blocks: readonly SampleBlock[]): Table {
  const length = blocks.reduce((sum, block) => sum + block.timeMs.length, 0);
  const timeMs = new Float64Array(length);
  const present = new Set<ChannelName>(blocks.flatMap((block) => blockChannels(block)));
  const columns = new Map([...present].map((name) => [name, new Float64Array(length).fill(Number.NaN)]));
  let at = 0;
  for (const block of blocks) {
    timeMs.set(block.timeMs, at);
    for (const name of blockChannels(block)) columns.get(name)?.set(block.channels[name] ?? [], at);
    at += block.timeMs.length;
  }
  const inOrder = channelNames.filter((name) => present.has(name));
  return {
    length,
    columns: [
      { name: 'time', kind: 'time', values: timeMs },
      { name: 'machineId', kind: 'text', values: new Array<string>(length).fill(machineId) },
      ...inOrder.map((name) => ({ name, kind: 'number', values: columns.get(name) as Float64Array }) as const),
    ],
  };
}
