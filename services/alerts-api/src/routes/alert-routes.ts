/** /v1/alerts: what is open and was, and what people do about it. */

import type { OperatorAction } from '@warmbrick/alerting';
import { conditionStates } from '@warmbrick/alerting';
import { severities } from '@warmbrick/analysis';
import {
  type AlertDocument,
  acknowledgeSchema,
  alertDetailSchema,
  alertListQuerySchema,
  alertListSchema,
  alertSchema,
  assignSchema,
  commentSchema,
  shelveSchema,
  toAlertDocument,
  toAlertMessage,
} from '@warmbrick/contracts';
import type { FastifyRequest } from 'fastify';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { parseInstant } from '../http/instant.js';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const tags = ['alerts'];
/** Machine id, rule id and start in ms, with two signs between. */
const params = z.strictObject({ episodeId: z.string().min(1).max(200) });
const problems = problemResponses([
  'invalid-request',
  'bad-cursor',
  'alert-not-found',
  'store-unavailable',
  'overloaded',
]);
const actionProblems = { ...problems, ...problemResponses(['action-refused']) };

/** Lists and shows alerts, and takes what people do to them. */
export function alertRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/alerts',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Alerts, those that began last first',
          tags,
          querystring: alertListQuerySchema,
          response: { 200: alertListSchema, ...problems },
        },
      },
      async ({ query, store }) => {
        const { limit, cursor, machineId, site, fleet, rule, condition, severity, acknowledged, from, to } = query;
        const page = await store.listAlerts({
          limit,
          cursor,
          machineId,
          site,
          fleets: fleet === undefined ? undefined : [fleet],
          ruleIds: rule?.split(','),
          conditions: oneOf('condition', condition, conditionStates),
          severities: oneOf('severity', severity, severities),
          isAcknowledged: acknowledged === undefined ? undefined : acknowledged === 'true',
          fromMs: from === undefined ? undefined : parseInstant(from),
          toMs: to === undefined ? undefined : parseInstant(to),
        });
        return { items: page.items.map(toAlertDocument), nextCursor: page.nextCursor };
      },
    );

    app.get(
      '/alerts/:episodeId',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'One alert with every step of its life',
          tags,
          params,
          response: { 200: alertDetailSchema, ...problems },
        },
      },
      async ({ params: { episodeId }, store }) => {
        const found = await store.getAlert(episodeId);
        if (found === null) throw notFound(episodeId);
        return { ...toAlertDocument(found.alert), events: found.events.map(toAlertMessage) };
      },
    );

    const action = { config: { role: 'analyst' } } as const;
    const schema = { tags, params, response: { 200: alertSchema, ...actionProblems } };
    app.post(
      '/alerts/:episodeId/acknowledge',
      { ...action, schema: { ...schema, summary: 'Say that somebody has seen it', body: acknowledgeSchema } },
      (request) => take(request, { type: 'acknowledge', note: request.body.note }),
    );
    app.post(
      '/alerts/:episodeId/assign',
      { ...action, schema: { ...schema, summary: 'Say who sees to it', body: assignSchema } },
      (request) => take(request, { type: 'assign', ...request.body }),
    );
    app.post(
      '/alerts/:episodeId/shelve',
      { ...action, schema: { ...schema, summary: 'Keep it quiet for a time, with a reason', body: shelveSchema } },
      (request) => {
        const { minutes, reason } = request.body;
        return take(request, { type: 'shelve', untilMs: Date.now() + minutes * 60_000, reason });
      },
    );
    app.post(
      '/alerts/:episodeId/unshelve',
      { ...action, schema: { ...schema, summary: 'Take it off the shelf' } },
      (request) => take(request, { type: 'unshelve' }),
    );
    app.post(
      '/alerts/:episodeId/comment',
      { ...action, schema: { ...schema, summary: 'Write into its history', body: commentSchema } },
      (request) => take(request, { type: 'comment', ...request.body }),
    );
  };
}

type ActionRequest = Pick<FastifyRequest, 'store' | 'caller'> & { readonly params: { readonly episodeId: string } };

async function take(
  { params: { episodeId }, store, caller }: ActionRequest,
  action: OperatorAction,
): Promise<AlertDocument> {
  const done = await store.actOnAlert(episodeId, action, { actor: caller.name, nowMs: Date.now() });
  if (done.outcome === 'unknown-alert') throw notFound(episodeId);
  if (done.outcome === 'refused') throw new ProblemError('action-refused', done.reason);
  return toAlertDocument(done.alert);
}

function notFound(episodeId: string): ProblemError {
  return new ProblemError('alert-not-found', `No alert "${episodeId}" is known. GET /v1/alerts lists all.`);
}

function oneOf<T extends string>(name: string, text: string | undefined, known: readonly T[]): T[] | undefined {
  if (text === undefined) return undefined;
  const asked = text.split(',').map((one) => one.trim());
  const unknown = asked.filter((one) => !(known as readonly string[]).includes(one));
  if (unknown.length === 0) return asked as T[];
  const message = `No such ${name}: ${unknown.join(', ')}. Known are ${known.join(', ')}.`;
  throw new ProblemError('invalid-request', message, [{ path: `query.${name}`, message }]);
}
