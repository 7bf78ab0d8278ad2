/** /v1/maintenance-windows: times at which machines are out of service and their alerts page nobody. */

import { randomUUID } from 'node:crypto';
import { type MaintenanceWindow, maintenanceWindowSchema } from '@warmbrick/alerting';
import {
  maintenanceAddSchema,
  maintenanceListSchema,
  maintenanceSchema,
  toMaintenanceDocument,
} from '@warmbrick/contracts';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { parseInstant } from '../http/instant.js';
import { ProblemError } from '../http/problem.js';
import { ownFleet } from './own-fleet.js';
import { problemResponses, requireMachine } from './route-schemas.js';

const tags = ['rules'];
const params = z.strictObject({ windowId: z.string().min(1).max(60) });
const problems = problemResponses(['invalid-request', 'fleet-not-yours', 'store-unavailable', 'overloaded']);

/** Lists, adds and ends maintenance windows. */
export function maintenanceRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/maintenance-windows',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Maintenance windows that are on or still to come',
          tags,
          response: { 200: maintenanceListSchema, ...problems },
        },
      },
      async ({ store }) => ({ items: (await store.listMaintenanceWindows(Date.now())).map(toMaintenanceDocument) }),
    );

    app.post(
      '/maintenance-windows',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Take a machine, a site or a fleet out of service for a time',
          tags,
          body: maintenanceAddSchema,
          response: { 201: maintenanceSchema, ...problems, ...problemResponses(['machine-not-found']) },
        },
      },
      async ({ body, caller, store }, reply) => {
        if (body.machineId !== undefined) await requireMachine(store, body.machineId);
        const window = toWindow(body, { fleetId: ownFleet(caller, body.fleetId), by: caller.name });
        await store.addMaintenanceWindow(window, Date.now());
        return reply.code(201).send(toMaintenanceDocument(window));
      },
    );

    app.delete(
      '/maintenance-windows/:windowId',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'End a maintenance window, or call it off',
          tags,
          params,
          response: {
            204: z.null().meta({ description: 'Gone.' }),
            ...problems,
            ...problemResponses(['window-not-found']),
          },
        },
      },
      async ({ params: { windowId }, store }, reply) => {
        if (await store.deleteMaintenanceWindow(windowId, Date.now())) return reply.code(204).send(null);
        throw new ProblemError(
          'window-not-found',
          `No maintenance window "${windowId}". GET /v1/maintenance-windows lists all.`,
        );
      },
    );
  };
}

function toWindow(
  { machineId, site, from, to, reason }: z.output<typeof maintenanceAddSchema>,
  whose: { fleetId: string; by: string },
): MaintenanceWindow {
  const parsed = maintenanceWindowSchema.safeParse({
    id: randomUUID(),
    ...whose,
    by: whose.by.slice(0, 100),
    machineId: machineId ?? null,
    site: site ?? null,
    fromMs: from === undefined ? Date.now() : parseInstant(from),
    toMs: to === undefined ? null : parseInstant(to),
    reason,
  });
  if (parsed.success) return parsed.data;
  const message = parsed.error.issues[0]?.message ?? 'the times do not fit';
  throw new ProblemError('invalid-request', `${message}.`, [{ path: 'to', message }]);
}
