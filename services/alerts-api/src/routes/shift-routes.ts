/** Shifts of a machine, and what its operators ticked. */

import {
  inspectionInputSchema,
  inspectionItems,
  inspectionSchema,
  shiftListSchema,
  shiftQuerySchema,
} from '@warmbrick/contracts';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { parseInstant } from '../http/instant.js';
import { ProblemError } from '../http/problem.js';
import { machineShifts, shiftStartingAt, toInspection } from '../service/machine-shifts.js';
import { queryRange } from './query-range.js';
import { machineParamsSchema, machineProblems, problemResponses, requireMachine } from './route-schemas.js';

/** Days asked for when the query does not say, and at most. Source: engineering judgement. */
const usualDays = 2;
const mostDays = 14;

const inspectionParams = machineParamsSchema.extend({
  shiftStart: z.iso.datetime({ offset: true }).meta({ description: 'Start of the shift, RFC 3339.' }),
});
const inspectionProblems = {
  ...machineProblems,
  ...problemResponses(['machine-not-found', 'shift-not-found', 'edited-meanwhile']),
};

/** Shifts, newest first, and their inspections. */
export function shiftRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    const tags = ['shifts'];
    app.get(
      '/machines/:machineId/shifts',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Starts, idles, stops, fills and inspections of each shift, newest first',
          tags,
          params: machineParamsSchema,
          querystring: shiftQuerySchema,
          response: { 200: shiftListSchema, ...machineProblems },
        },
      },
      async ({ store, params, query }) => {
        const machine = await requireMachine(store, params.machineId);
        const range = queryRange(query, { usualToMs: machine.lastSampleMs + 1, usualDays, mostDays });
        return machineShifts(store, machine, range);
      },
    );
    app.post(
      '/machines/:machineId/shifts/:shiftStart/inspection',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Tick what was looked at; what was ticked before stays in the history',
          tags,
          params: inspectionParams,
          body: inspectionInputSchema,
          response: { 201: inspectionSchema, ...inspectionProblems },
        },
      },
      async ({ store, params: { machineId, shiftStart }, body, caller }, reply) => {
        const machine = await requireMachine(store, machineId);
        const shiftStartedMs = parseInstant(shiftStart);
        if (shiftStartingAt(machine, shiftStartedMs) === null) {
          throw new ProblemError('shift-not-found', `No shift of "${machineId}" starts at ${shiftStart}.`);
        }
        const { by, note, ticks, basedOn } = body;
        const made = inspectionItems.flatMap((item) => {
          const tick = ticks[item] ?? null;
          return tick === null ? [] : [[item, tick] as const];
        });
        const inspection = {
          ...{ machineId, shiftStartedMs, version: basedOn + 1, atMs: Date.now(), by, keyId: caller.keyId, note },
          ticks: Object.fromEntries(made),
        };
        if (!(await store.addInspection(inspection))) {
          throw new ProblemError(
            'edited-meanwhile',
            'Somebody else has ticked meanwhile. Look at what they wrote and save again.',
          );
        }
        return reply.code(201).send(toInspection(inspection));
      },
    );
  };
}
