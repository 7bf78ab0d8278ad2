/** Service of machines: what is due, what was done. */

import { createHash, randomUUID } from 'node:crypto';
import {
  machineServiceSchema,
  serviceImportResultSchema,
  serviceImportSchema,
  serviceRecordInputSchema,
  serviceRecordSchema,
} from '@warmbrick/contracts';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { parseInstant } from '../http/instant.js';
import { ProblemError } from '../http/problem.js';
import { machineService, toRecordDocument } from '../service/machine-service.js';
import { readServiceCsv } from '../service/read-service-csv.js';
import { machineParamsSchema, machineProblems, problemResponses, requireMachine } from './route-schemas.js';

const recordProblems = { ...machineProblems, ...problemResponses(['machine-not-found', 'record-not-found']) };
/** Work is not written down further ahead than clocks differ, ms. */
const mostAheadMs = 24 * 3_600_000;
const importBodyBytes = 1024 * 1024;

/** What is due and what was done, one record or many. */
export function serviceRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    const tags = ['service'];
    app.addContentTypeParser(
      'text/csv',
      { parseAs: 'string', bodyLimit: importBodyBytes },
      async (_request: unknown, text: string | Buffer) => readServiceCsv(String(text)),
    );
    app.get(
      '/machines/:machineId/service',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Service of one machine: what is due, by hours and calendar, and what was done',
          tags,
          params: machineParamsSchema,
          response: { 200: machineServiceSchema, ...machineProblems },
        },
      },
      async ({ store, params }) => machineService(store, await requireMachine(store, params.machineId), Date.now()),
    );
    app.post(
      '/machines/:machineId/service',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Write down work that was done',
          tags,
          params: machineParamsSchema,
          body: serviceRecordInputSchema,
          response: { 201: serviceRecordSchema, ...recordProblems },
        },
      },
      async ({ store, params: { machineId }, body, caller }, reply) => {
        await requireMachine(store, machineId);
        const { at, by, ...rest } = body;
        const record = {
          ...rest,
          ...{ id: randomUUID(), machineId, atMs: pastInstant(at) },
          recordedBy: by ?? caller.name,
          recordedMs: Date.now(),
        };
        await store.addServiceRecords([record]);
        return reply.code(201).send(toRecordDocument(record));
      },
    );
    app.delete(
      '/machines/:machineId/service/:recordId',
      {
        config: { role: 'analyst' },
        schema: {
          summary: 'Take back a record',
          tags,
          params: machineParamsSchema.extend({ recordId: z.string().min(1).max(80) }),
          response: { 204: z.null().meta({ description: 'Deleted.' }), ...recordProblems },
        },
      },
      async ({ store, params: { machineId, recordId } }, reply) => {
        if (!(await store.deleteServiceRecord(machineId, recordId))) {
          throw new ProblemError('record-not-found', `The machine "${machineId}" has no record "${recordId}".`);
        }
        return reply.code(204).send(null);
      },
    );
    app.post(
      '/service-records',
      {
        config: { role: 'analyst' },
        bodyLimit: importBodyBytes,
        schema: {
          summary: 'Write down many records of any machines, as JSON or CSV; the same again changes nothing',
          tags,
          body: serviceImportSchema,
          response: { 200: serviceImportResultSchema, ...recordProblems },
        },
      },
      async ({ store, body, caller }) => {
        const recordedMs = Date.now();
        const records = body.map(({ at, by, ...rest }) => ({
          ...rest,
          ...{ id: importId(rest.machineId, rest.item, at), atMs: pastInstant(at) },
          recordedBy: by ?? caller.name,
          recordedMs,
        }));
        const written = await store.addServiceRecords(records);
        return { written, known: records.length - written };
      },
    );
  };
}

/** What makes two lines of an import the same record. */
function importId(machineId: string, item: string, at: string): string {
  return createHash('sha256')
    .update(JSON.stringify([machineId, item, parseInstant(at)]))
    .digest('hex')
    .slice(0, 32);
}

function pastInstant(at: string): number {
  const atMs = parseInstant(at);
  if (atMs <= Date.now() + mostAheadMs) return atMs;
  const message = 'Work that was done lies in the past.';
  throw new ProblemError('invalid-request', message, [{ path: 'body.at', message }]);
}
