/** /v1/rules: what is worth an alert; rules are tried on what happened before they go live. */

import { builtInRules, type Rule, readRule, ruleIdPattern, rulesOfFleet } from '@warmbrick/alerting';
import {
  type RuleDocument,
  ruleDocumentSchema,
  ruleListSchema,
  rulePutSchema,
  ruleTriedSchema,
  ruleTrySchema,
  toInstant,
} from '@warmbrick/contracts';
import type { Store, StoredRule } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { tryOnStored } from '../rules/try-on-stored.js';
import { ownFleet } from './own-fleet.js';
import { problemResponses } from './route-schemas.js';

const tags = ['rules'];
const params = z.strictObject({ ruleId: z.string().max(60).regex(ruleIdPattern) });
const query = z.strictObject({ fleetId: z.string().max(100).optional() });
const problems = problemResponses(['invalid-request', 'fleet-not-yours', 'store-unavailable', 'overloaded']);
const writeProblems = {
  ...problems,
  ...problemResponses(['rule-not-valid', 'rule-not-found', 'rule-exists', 'edited-meanwhile']),
};
/** Rules that a fleet sets at most. Source: engineering judgement. */
const mostRules = 500;

/** Lists, sets, tries and takes away rules. */
export function ruleRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/rules',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'The rules of a fleet, built in and set',
          tags,
          querystring: query,
          response: { 200: ruleListSchema, ...problems },
        },
      },
      async ({ query: { fleetId }, caller, store }) => ({ items: await listOf(store, ownFleet(caller, fleetId)) }),
    );

    app.post(
      '/rules',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'A new rule, or a built-in one with other levels',
          tags,
          body: rulePutSchema,
          response: { 201: ruleDocumentSchema, ...writeProblems },
        },
      },
      async ({ body, caller, store }, reply) => {
        const fleetId = ownFleet(caller, body.fleetId);
        const rule = checked(body.rule);
        const own = await store.listRules([fleetId]);
        if (own.some((one) => one.rule.id === rule.id)) {
          throw new ProblemError(
            'rule-exists',
            `The fleet "${fleetId}" has a rule "${rule.id}". PUT /v1/rules/${rule.id} changes it.`,
          );
        }
        if (own.length >= mostRules) throw new ProblemError('rule-exists', `A fleet sets at most ${mostRules} rules.`);
        const stored = await store.putRule({ fleetId, rule, by: caller.name, nowMs: Date.now(), basedOn: 0 });
        if (stored === null) throw editedMeanwhile();
        reply.code(201).header('Location', `/v1/rules/${rule.id}`);
        return toDocument(fleetId, rule, stored);
      },
    );

    app.put(
      '/rules/:ruleId',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'Change a rule',
          tags,
          params,
          body: rulePutSchema,
          response: { 200: ruleDocumentSchema, ...writeProblems },
        },
      },
      async ({ params: { ruleId }, body, caller, store }) => {
        const fleetId = ownFleet(caller, body.fleetId);
        const rule = checked(body.rule);
        if (rule.id !== ruleId) {
          const message = `The rule calls itself "${rule.id}", the address "${ruleId}".`;
          throw new ProblemError('rule-not-valid', message, [{ path: 'rule.id', message }]);
        }
        const isKnown = (await listOf(store, fleetId)).some((one) => one.rule.id === ruleId);
        if (!isKnown) throw notFound(ruleId);
        const { basedOn } = body;
        const stored = await store.putRule({ fleetId, rule, by: caller.name, nowMs: Date.now(), basedOn });
        if (stored === null) throw editedMeanwhile();
        return toDocument(fleetId, rule, stored);
      },
    );

    app.delete(
      '/rules/:ruleId',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'Take a rule away; a built-in one is as it was then',
          tags,
          params,
          querystring: query,
          response: { 204: z.null().meta({ description: 'Taken away.' }), ...writeProblems },
        },
      },
      async ({ params: { ruleId }, query: { fleetId }, caller, store }, reply) => {
        if (!(await store.deleteRule(ownFleet(caller, fleetId), ruleId, Date.now()))) throw notFound(ruleId);
        return reply.code(204).send(null);
      },
    );

    app.post(
      '/rules/try',
      {
        config: { role: 'analyst', audit: false },
        schema: {
          summary: 'How often would a rule have opened? Tried on what is stored of the last days; nothing is changed',
          tags,
          body: ruleTrySchema,
          response: { 200: ruleTriedSchema, ...problems, ...problemResponses(['rule-not-valid']) },
        },
      },
      async ({ body, caller, store }) => {
        const rule = checked(body.rule);
        return tryOnStored(store, rule, {
          fleetId: ownFleet(caller, body.fleetId),
          days: body.days,
          nowMs: Date.now(),
        });
      },
    );
  };
}

function checked(value: unknown): Rule {
  const { rule, problems: found } = readRule(value);
  if (rule !== null) return rule;
  const errors = found.map(({ path, message }) => ({ path: path === '' ? 'rule' : `rule.${path}`, message }));
  const text = errors.map(({ path, message }) => `${path}: ${message}`).join('; ');
  throw new ProblemError('rule-not-valid', `${text}.`, errors);
}

async function listOf(store: Store, fleetId: string): Promise<RuleDocument[]> {
  const stored = await store.listRules([fleetId]);
  const byId = new Map(stored.map((one) => [one.rule.id, one]));
  const book = { ownRules: stored, windows: [] };
  return rulesOfFleet(book, fleetId).map((rule) => toDocument(fleetId, rule, byId.get(rule.id)));
}

function toDocument(fleetId: string, rule: Rule, stored: StoredRule | undefined): RuleDocument {
  return {
    fleetId: stored === undefined ? '' : fleetId,
    isBuiltIn: builtInRules.some(({ id }) => id === rule.id),
    isChanged: stored !== undefined,
    revision: stored?.revision ?? 0,
    changedAt: stored === undefined ? null : toInstant(stored.changedMs),
    changedBy: stored?.changedBy ?? null,
    rule,
  };
}

function editedMeanwhile(): ProblemError {
  return new ProblemError(
    'edited-meanwhile',
    'Somebody else has changed the rule meanwhile. Look at what they set and save again.',
  );
}

function notFound(ruleId: string): ProblemError {
  return new ProblemError('rule-not-found', `No rule "${ruleId}" has been set. GET /v1/rules lists all.`);
}
