/** POST /v1/telemetry and /v1/faults: samples and fault reports that somebody sends. */

import type { Readable } from 'node:stream';
import {
  faultsBodySchema,
  type TelemetryAnswer,
  type TelemetryReceipt,
  type TelemetryReceiver,
  telemetryBodySchema,
  telemetryHeadersSchema,
  telemetryLimits,
  telemetryQuerySchema,
  telemetryReceiptSchema,
} from '@warmbrick/contracts';
import type { Store } from '@warmbrick/store';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { type FastifyPluginAsyncZod, validatorCompiler } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { Caller } from '../access/caller.js';
import { type ProblemCode, ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const problemByReason: Readonly<Record<Extract<TelemetryAnswer, { outcome: 'refused' }>['why'], ProblemCode>> = {
  unreadable: 'invalid-request',
  'too-large': 'body-too-large',
  unsupported: 'unsupported-media-type',
  'key-reused': 'idempotency-key-reused',
  'not-yours': 'fleet-not-yours',
  'too-busy': 'overloaded',
};

const answers = {
  200: telemetryReceiptSchema.meta({ description: 'Analysed and committed; what could not be taken is listed.' }),
  202: telemetryReceiptSchema.meta({ description: 'Safe in the topics; analysed soon.' }),
  ...problemResponses([...new Set(Object.values(problemByReason)), 'too-many-requests', 'store-unavailable']),
};

/** The forms that are not JSON. */
const textBody = z.string().meta({
  description:
    'application/x-ndjson: one message a line. text/csv (samples only): a first line with `machineId`, `time` and channels ' +
    'of the catalogue, then a line a sample; a blank is no value.',
});

/** The routes; the receiver does the work, and reads the body as it comes. */
export function telemetryRoutes(receiver: TelemetryReceiver, store: Store): FastifyPluginAsyncZod {
  return async (app) => {
    app.removeAllContentTypeParsers();
    // The receiver decompresses and counts, so that it can stop in the middle.
    app.addContentTypeParser('*', (_request, payload, done) => done(null, payload));
    const shared = {
      bodyLimit: telemetryLimits.bodyBytes,
      decompress: false as const,
      // The body is a stream here; its schema only describes it.
      validatorCompiler: (part: { httpPart?: string | undefined }) =>
        part.httpPart === 'body' ? () => true : validatorCompiler(part as Parameters<typeof validatorCompiler>[0]),
    };

    app.post(
      '/telemetry',
      {
        ...shared,
        config: { role: 'engineer', audit: false, idempotency: false },
        schema: {
          summary: 'Samples of any machines and times; the answer comes after the commit',
          description:
            'One message or an array of them, NDJSON of messages, or CSV of named channels; also with Content-Encoding: gzip. ' +
            'To send the same samples again changes nothing.',
          tags: ['telemetry'],
          querystring: telemetryQuerySchema,
          headers: telemetryHeadersSchema,
          consumes: ['application/json', 'application/x-ndjson', 'text/csv'],
          body: z.union([telemetryBodySchema, textBody]),
          response: answers,
        },
      },
      async (request, reply) => {
        const { machineId } = request.query;
        return send(request, reply, await receiver.receive({ ...partsOf(request, store), kind: 'samples', machineId }));
      },
    );

    app.post(
      '/faults',
      {
        ...shared,
        config: { role: 'engineer', audit: false, idempotency: false },
        schema: {
          summary: 'Fault codes as controllers reported them; the answer comes after the commit',
          tags: ['telemetry'],
          headers: telemetryHeadersSchema,
          consumes: ['application/json', 'application/x-ndjson'],
          body: z.union([faultsBodySchema, textBody]),
          response: answers,
        },
      },
      async (request, reply) =>
        send(
          request,
          reply,
          await receiver.receive({ ...partsOf(request, store), kind: 'faults', machineId: undefined }),
        ),
    );
  };
}

function partsOf({ headers, body, caller }: Pick<FastifyRequest, 'headers' | 'body' | 'caller'>, store: Store) {
  const key = headers['idempotency-key'];
  return {
    contentType: headers['content-type'],
    contentEncoding: headers['content-encoding'],
    sender: caller.keyId,
    foreignMachines: (machineIds: readonly string[]) => foreignMachines(store, caller.fleets, machineIds),
    idempotencyKey: typeof key === 'string' ? key : undefined,
    // Left open when the receiver stops in the middle: otherwise the connection is gone before the sender is told why.
    body: (body as Readable).iterator({ destroyOnReturn: false }),
  };
}

/** Machines that are another fleet's. One that nobody knows yet joins the sender's fleet. */
async function foreignMachines(
  store: Store,
  fleets: Caller['fleets'],
  machineIds: readonly string[],
): Promise<readonly string[]> {
  if (fleets === 'all') return [];
  const [first] = fleets;
  const known = await store.fleetsOf(machineIds);
  const foreign = machineIds.filter((id) => first === undefined || !fleets.includes(known.get(id) ?? first));
  if (foreign.length > 0 || first === undefined) return foreign;
  for (const machineId of machineIds) if (!known.has(machineId)) await store.moveMachine(machineId, first);
  return [];
}

/** Errors: the problem of a body that was refused. */
function send(request: Pick<FastifyRequest, 'raw'>, reply: FastifyReply, answer: TelemetryAnswer): TelemetryReceipt {
  // The rest of a body that was given up is read and dropped, within the time that a request may take: a sender that is
  // still sending would not see the answer.
  request.raw.resume();
  if (answer.outcome === 'taken') {
    reply.code(answer.isCommitted ? 200 : 202);
    return answer.receipt;
  }
  const errors = answer.rejects.map(({ where, reason, detail }) => ({ path: where, message: `${reason}: ${detail}` }));
  throw new ProblemError(problemByReason[answer.why], answer.detail, errors.length > 0 ? errors : undefined);
}
