/** GET /v1/machines/:machineId/scores: how the score went, day by day. */

import { type ScoreSeries, scoreQuerySchema, scoreSeriesSchema, toInstant } from '@warmbrick/contracts';
import type { ScoreDay } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { sendTable, seriesResponse, wantedFormat } from '../tables/send-series.js';
import type { Table } from '../tables/table.js';
import { queryRange } from './query-range.js';
import { machineParamsSchema, machineProblems, requireMachine } from './route-schemas.js';

const dayMs = 86_400_000;
/** Days asked for when the query does not say, and at most. */
const usualDays = 62;
const mostDays = 731;

/** The score of each UTC day, as it stood with the day's last sample. */
export function scoreRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/scores',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'How the score of one machine went, day by day',
          tags: ['machines'],
          params: machineParamsSchema,
          querystring: scoreQuerySchema,
          response: { 200: seriesResponse(scoreSeriesSchema), ...machineProblems },
        },
      },
      async (request, reply) => {
        const { machineId } = request.params;
        const { format, from, to } = request.query;
        const { lastSampleMs } = await requireMachine(request.store, machineId);
        const range = queryRange({ from, to }, { usualToMs: lastSampleMs + 1, usualDays, mostDays });
        const fromMs = Math.floor(range.fromMs / dayMs) * dayMs;
        const days = await request.store.listScoreDays({ machineId, fromMs, toMs: range.toMs });
        const form = wantedFormat(request, format);
        if (form !== 'json') return sendTable(reply, form, { name: `${machineId} scores`, table: scoreTable(days) });
        return reply.send(scoreSeries(days));
      },
    );
  };
}

function scoreSeries(days: readonly ScoreDay[]): ScoreSeries {
  return {
    items: days.map(({ dayMs: startMs, atMs, parts, ...score }) => ({
      day: toInstant(startMs).slice(0, 10),
      at: toInstant(atMs),
      ...score,
      parts: { ...parts },
    })),
  };
}

function scoreTable(days: readonly ScoreDay[]): Table {
  const parts = [...new Set(days.flatMap((day) => Object.keys(day.parts)))].sort();
  return {
    length: days.length,
    columns: [
      { name: 'day', kind: 'text', values: days.map((day) => toInstant(day.dayMs).slice(0, 10)) },
      { name: 'at', kind: 'time', values: days.map((day) => day.atMs) },
      { name: 'value', kind: 'number', values: days.map((day) => day.value) },
      { name: 'confidence', kind: 'number', values: days.map((day) => day.confidence) },
      { name: 'thresholdSet', kind: 'text', values: days.map((day) => day.thresholdSet) },
      ...parts.map((name) => ({ name, kind: 'number', values: days.map((day) => day.parts[name] ?? null) }) as const),
    ],
  };
}
