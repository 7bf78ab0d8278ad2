/** Derates of machines, and what the inquiries into them found. */

import { type FleetFaultTable, faultReachMs } from '@warmbrick/analysis';
import {
  type DerateDetail,
  type DerateItem,
  derateDetailSchema,
  derateListQuerySchema,
  derateListSchema,
  toClockDocument,
  toDerateDocument,
  toInquiryDocument,
  toRevisionDocument,
} from '@warmbrick/contracts';
import { inducementClocks } from '@warmbrick/reports';
import type { Store, StoredDerate } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { parseInstant } from '../http/instant.js';
import { ProblemError } from '../http/problem.js';
import { machineParamsSchema, machineProblems, problemResponses, requireKnownMachine } from './route-schemas.js';

const tags = ['faults'];
const derateParamsSchema = z.strictObject({ derateId: z.string().min(1).max(200) });

/** The derates of a machine, and one with everything about it. */
export function derateRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/derates',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Derates of one machine, newest first, each with the faults that could have begun it',
          tags,
          params: machineParamsSchema,
          querystring: derateListQuerySchema,
          response: { 200: derateListSchema, ...machineProblems },
        },
      },
      async ({ store, params: { machineId }, query }) => {
        await requireKnownMachine(store, machineId);
        const { from, to, limit, cursor } = query;
        const page = await store.listDerates({
          machineId,
          limit,
          cursor,
          fromMs: from === undefined ? undefined : parseInstant(from),
          toMs: to === undefined ? undefined : parseInstant(to),
        });
        const table = await store.machineFaultTexts(machineId);
        const items: DerateItem[] = [];
        for (const derate of page.items) items.push(await derateItem(store, derate, table));
        return { items, nextCursor: page.nextCursor };
      },
    );
    app.get(
      '/derates/:derateId',
      {
        config: { role: 'viewer' },
        schema: {
          summary:
            'One derate: its origin with what speaks for and against it, how the answer changed, and what comes next',
          tags,
          params: derateParamsSchema,
          response: {
            200: derateDetailSchema,
            ...problemResponses(['derate-not-found', 'too-many-requests', 'store-unavailable']),
          },
        },
      },
      async ({ store, params: { derateId } }) => {
        const found = await store.getDerate(derateId);
        if (found === null) throw new ProblemError('derate-not-found', `No derate "${derateId}" is known.`);
        return derateDetail(store, found);
      },
    );
  };
}

async function derateItem(store: Store, { derate, latest }: StoredDerate, table: FleetFaultTable): Promise<DerateItem> {
  if (latest === null) return { ...toDerateDocument(derate), inquiry: null };
  const { machineId, startedMs } = derate;
  const faults = await store.listFaultEpisodes({
    machineId,
    fromMs: startedMs - faultReachMs,
    toMs: startedMs + faultReachMs,
  });
  return { ...toDerateDocument(derate), inquiry: toInquiryDocument(latest.inquiry, faults, table) };
}

type Found = NonNullable<Awaited<ReturnType<Store['getDerate']>>>;

async function derateDetail(store: Store, found: Found): Promise<DerateDetail> {
  const { machineId } = found.derate;
  const table = await store.machineFaultTexts(machineId);
  const [item, history, clocks] = await Promise.all([
    derateItem(store, found, table),
    store.listInquiries(found.derate.id),
    clocksNow(store, machineId, table),
  ]);
  return { ...item, isWithdrawn: found.isWithdrawn, history: history.map(toRevisionDocument), clocks };
}

/** The clocks of the faults that are active at the machine's last sign of life. */
async function clocksNow(
  store: Store,
  machineId: string,
  fleetTable: FleetFaultTable,
): Promise<DerateDetail['clocks']> {
  const faults = await store.listFaultEpisodes({ machineId, fromMs: 0, toMs: Number.POSITIVE_INFINITY });
  const seenMs = Math.max(0, ...faults.map(({ lastSeenMs }) => lastSeenMs));
  const atMs = Math.max(seenMs, (await store.getMachine(machineId))?.lastSampleMs ?? 0);
  const clocks = await inducementClocks({ faults, fleetTable, atMs }, ({ fromMs, toMs }) =>
    store.readSamples({
      machineId,
      fromMs: Math.floor(fromMs),
      toMs: Math.ceil(toMs),
      channels: ['engineHours', 'defLevelPct'],
    }),
  );
  return clocks.map(toClockDocument);
}
