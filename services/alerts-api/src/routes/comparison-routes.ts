/** How a machine stands beside its class, and DEF batches after which machines lost NOx conversion. */

import { traceBatches } from '@warmbrick/analysis';
import {
  type Comparison,
  comparisonSchema,
  type DefBatchTraceList,
  defBatchTraceListSchema,
  toInstant,
} from '@warmbrick/contracts';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { batchesInUse, batchFindings } from '../comparison/batch-findings.js';
import { compareMachine } from '../comparison/compare-machine.js';
import { listMostMachines } from '../comparison/list-most-machines.js';
import { machineParamsSchema, machineProblems, problemResponses, requireMachine } from './route-schemas.js';

const problems = problemResponses(['too-many-requests', 'store-unavailable', 'overloaded']);

/** GET /v1/machines/:machineId/comparison and /v1/def-batches. */
export function comparisonRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/comparison',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Figures of the last week beside those of machines of the same class and work, and days of change',
          tags: ['machines'],
          params: machineParamsSchema,
          response: { 200: comparisonSchema, ...machineProblems },
        },
      },
      async ({ store, params }): Promise<Comparison> => {
        const machine = await requireMachine(store, params.machineId);
        return compareMachine(store, machine);
      },
    );
    app.get(
      '/def-batches',
      {
        config: { role: 'viewer' },
        schema: {
          summary:
            'Batches of DEF on record, the machines filled from each, and those that lost NOx conversion after it',
          tags: ['service'],
          response: { 200: defBatchTraceListSchema, ...problems },
        },
      },
      async ({ store }): Promise<DefBatchTraceList> => {
        const batches = await store.listDefBatches();
        if (batches.length === 0) return { items: [], machines: 0, hasMoreMachines: false };
        const { machines, hasMore } = await listMostMachines(store);
        const siteOf = new Map(machines.map(({ machineId, profile }) => [machineId, profile.site ?? '']));
        const traces = traceBatches(
          await batchFindings(store, machines, batches),
          (machineId) => siteOf.get(machineId),
          batchesInUse(batches, [...new Set(siteOf.values())]),
        );
        const items = traces.map(({ machines: filled, ...trace }) => ({
          ...trace,
          machines: filled.map(({ machineId, filledMs, lostMs }) => ({
            machineId,
            filledAt: toInstant(filledMs),
            lostAt: lostMs === null ? null : toInstant(lostMs),
          })),
        }));
        return { items, machines: machines.length, hasMoreMachines: hasMore };
      },
    );
  };
}
