/** GET /v1/machines/:machineId/residency. */

import { residencySums } from '@warmbrick/analysis';
import {
  type ResidencyBucket,
  type ResidencySeries,
  residencyQuerySchema,
  residencySeriesSchema,
  toInstant,
} from '@warmbrick/contracts';
import type { Store, StoredMachine } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { residencyBucketBounds } from '../series/residency-buckets.js';
import { quarterEnd, quarterStart, rowsByStart, sumRows } from '../series/residency-sum.js';
import { sendTable, seriesResponse, wantedFormat } from '../tables/send-series.js';
import type { Table } from '../tables/table.js';
import { queryRange } from './query-range.js';
import { machineParamsSchema, machineProblems, requireMachine } from './route-schemas.js';

/** Days asked for when the query does not say, and at most. Source: engineering judgement: at most 36 000 rows. */
const usualDays: Readonly<Record<ResidencyBucket, number>> = { quarter: 1, hour: 1, shift: 7, day: 28 };
const mostDays: Readonly<Record<ResidencyBucket, number>> = { quarter: 62, hour: 62, shift: 370, day: 370 };

/** How one machine spent its time, by quarter, hour, shift or day of its own time zone. */
export function residencyRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/residency',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'How one machine spent its time, by quarter, hour, shift or day',
          tags: ['machines'],
          params: machineParamsSchema,
          querystring: residencyQuerySchema,
          response: { 200: seriesResponse(residencySeriesSchema), ...machineProblems },
        },
      },
      async (request, reply) => {
        const machine = await requireMachine(request.store, request.params.machineId);
        const { bucket, from, to, format } = request.query;
        const range = queryRange(
          { from, to },
          {
            usualToMs: quarterEnd(machine.lastSampleMs),
            usualDays: usualDays[bucket],
            mostDays: mostDays[bucket],
          },
        );
        const series = await residencySeries(request.store, machine, { bucket, ...range });
        const form = wantedFormat(request, format);
        if (form === 'json') return reply.send(series);
        return sendTable(reply, form, { name: `${machine.machineId} residency`, table: residencyTable(series) });
      },
    );
  };
}

function residencyTable({ items }: ResidencySeries): Table {
  const sums = [...residencySums, 'maxExhaustTempC'] as const;
  return {
    length: items.length,
    columns: [
      { name: 'startedAt', kind: 'time', values: items.map((item) => Date.parse(item.startedAt)) },
      { name: 'endedAt', kind: 'time', values: items.map((item) => Date.parse(item.endedAt)) },
      { name: 'shift', kind: 'text', values: items.map((item) => item.shift) },
      ...sums.map((name) => ({ name, kind: 'number', values: items.map((item) => item[name]) }) as const),
    ],
  };
}

async function residencySeries(
  store: Store,
  { machineId, profile, summary, lastSampleMs }: StoredMachine,
  asked: { bucket: ResidencyBucket; fromMs: number; toMs: number },
): Promise<ResidencySeries> {
  const observedFromMs = quarterStart(summary.observed.fromMs);
  const observedToMs = quarterEnd(lastSampleMs);
  const fromMs = Math.max(asked.fromMs, observedFromMs);
  const toMs = Math.min(asked.toMs, observedToMs);
  const { bucket } = asked;
  const head = { bucket, timeZone: profile.timeZone };
  if (fromMs >= toMs) return { ...head, items: [] };
  const buckets = residencyBucketBounds({ bucket, profile, fromMs, toMs });
  const firstMs = quarterStart(Math.min(fromMs, ...buckets.slice(0, 8).map(({ startMs }) => startMs)));
  const lastMs = Math.max(toMs, ...buckets.slice(-8).map(({ endMs }) => endMs));
  const rows = rowsByStart((await store.listRows([machineId], firstMs, lastMs)).get(machineId) ?? []);
  const items = buckets.map(({ startMs, endMs, shift }) => ({
    startedAt: toInstant(startMs),
    endedAt: toInstant(endMs),
    shift,
    // Only the observed part: before the first and after the last sample nothing is missing.
    ...sumRows(rows, quarterEnd(Math.max(startMs, observedFromMs)), Math.min(endMs, observedToMs)),
  }));
  return { ...head, items };
}
