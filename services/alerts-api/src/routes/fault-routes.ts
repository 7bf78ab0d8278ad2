/** Fault codes of machines: the log, entries by hand, and the words of a fleet. */

import { randomUUID } from 'node:crypto';
import {
  type FaultEntryDocument,
  faultEntryBodySchema,
  faultEntrySchema,
  faultListQuerySchema,
  faultListSchema,
  faultTextsBodySchema,
  faultTextsQuerySchema,
  faultTextsSchema,
  toFaultLine,
  toInstant,
} from '@warmbrick/contracts';
import type { FaultEntry, Store } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import type { z } from 'zod';
import { parseInstant } from '../http/instant.js';
import { ProblemError } from '../http/problem.js';
import { ownFleet } from './own-fleet.js';
import { machineParamsSchema, machineProblems, problemResponses, requireKnownMachine } from './route-schemas.js';

const tags = ['faults'];
/** Codes are not typed in further ahead than clocks differ, ms. */
const mostAheadMs = 24 * 3_600_000;
/** A table of codes may be large. */
const textsBodyBytes = 2 * 1024 * 1024;

/** The log of a machine's codes, and entries by hand. */
export function faultRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/faults',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Every fault code of one machine, by occurrence or by time',
          description:
            'A line is one code of one controller with every time it occurred; nothing is ever dropped from it.',
          tags,
          params: machineParamsSchema,
          querystring: faultListQuerySchema,
          response: { 200: faultListSchema, ...machineProblems },
        },
      },
      async ({ store, params: { machineId }, query }) => {
        await requireKnownMachine(store, machineId);
        const { from, to, state, ...rest } = query;
        const page = await store.listFaultLog({
          machineId,
          ...rest,
          fromMs: from === undefined ? undefined : parseInstant(from),
          toMs: to === undefined ? undefined : parseInstant(to),
          isActive: state === undefined ? undefined : state === 'active',
        });
        const table = await store.machineFaultTexts(machineId);
        return { items: page.items.map((line) => toFaultLine(line, table)), nextCursor: page.nextCursor };
      },
    );
    app.post(
      '/machines/:machineId/faults',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Type in a code that was read off a display',
          description:
            'It goes into the log like a reported one and says who typed it. The same id again changes nothing.',
          tags,
          params: machineParamsSchema,
          body: faultEntryBodySchema,
          response: { 200: faultEntrySchema, 201: faultEntrySchema, ...machineProblems },
        },
      },
      async ({ store, params: { machineId }, body, caller }, reply) => {
        await requireKnownMachine(store, machineId);
        const entry = entryOf(machineId, body, caller.name);
        const isNew = await store.addFaultEntry(entry);
        return reply.code(isNew ? 201 : 200).send(entryDocument(entry));
      },
    );
  };
}

function entryOf(machineId: string, body: z.output<typeof faultEntryBodySchema>, typedBy: string): FaultEntry {
  const { id = randomUUID(), at, what, spn, fmi, sourceAddress, occurrenceCount, note } = body;
  const timeMs = parseInstant(at);
  const typedMs = Date.now();
  if (timeMs > typedMs + mostAheadMs) {
    const message = 'This time is still to come.';
    throw new ProblemError('invalid-request', message, [{ path: 'body.at', message }]);
  }
  const notice = { machineId, timeMs, sourceAddress, kind: what, origin: 'typed', spn, fmi, occurrenceCount } as const;
  return { id, notice, note, typedBy, typedMs };
}

function entryDocument({ id, notice, note, typedBy, typedMs }: FaultEntry): FaultEntryDocument {
  const { timeMs, spn, fmi, sourceAddress, kind: what } = notice;
  return { id, at: toInstant(timeMs), spn, fmi, sourceAddress, what, note, typedBy, typedAt: toInstant(typedMs) };
}

/** A fleet's own words for codes. */
export function faultTextRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    const problems = problemResponses(['invalid-request', 'fleet-not-yours', 'too-many-requests', 'store-unavailable']);
    app.get(
      '/fault-texts',
      {
        config: { role: 'viewer' },
        schema: {
          summary: "The fleet's own table of fault codes",
          tags,
          querystring: faultTextsQuerySchema,
          response: { 200: faultTextsSchema, ...problems },
        },
      },
      async ({ store, caller, query }) => faultTexts(store, ownFleet(caller, query.fleetId)),
    );
    app.put(
      '/fault-texts',
      {
        config: { role: 'engineer' },
        bodyLimit: textsBodyBytes,
        schema: {
          summary: "Replace the fleet's own table of fault codes",
          description: 'It goes before the built-in words. Derates of the fleet are inquired into anew.',
          tags,
          querystring: faultTextsQuerySchema,
          body: faultTextsBodySchema,
          response: { 200: faultTextsSchema, ...problems },
        },
      },
      async ({ store, caller, query, body }) => {
        const fleetId = ownFleet(caller, query.fleetId);
        const twice = body.items.find(
          (row, at) => body.items.findIndex(({ spn, fmi }) => spn === row.spn && fmi === row.fmi) !== at,
        );
        if (twice !== undefined) {
          const message = `SPN ${twice.spn} FMI ${twice.fmi ?? 'any'} is there twice.`;
          throw new ProblemError('invalid-request', message, [{ path: 'body.items', message }]);
        }
        await store.putFaultTexts(fleetId, { table: body.items, name: caller.name, atMs: Date.now() });
        return faultTexts(store, fleetId);
      },
    );
  };
}

async function faultTexts(store: Store, fleetId: string): Promise<z.output<typeof faultTextsSchema>> {
  const stored = await store.listFaultTexts(fleetId);
  return {
    fleetId,
    items: stored.map(({ row, changedBy, changedMs }) => ({ ...row, changedBy, changedAt: toInstant(changedMs) })),
  };
}
