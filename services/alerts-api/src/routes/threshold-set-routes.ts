/** /v1/threshold-sets and /v1/set-promotions: versioned sets, who promoted which from when, and the way back. */

import { builtInThresholds, type ThresholdSet, thresholdSetSchema } from '@warmbrick/analysis';
import {
  newPromotionSchema,
  newThresholdSetSchema,
  type PromotionDocument,
  promotionDocumentSchema,
  promotionListSchema,
  rollbackSchema,
  type ThresholdSetDocument,
  thresholdSetDocumentSchema,
  thresholdSetListSchema,
  toInstant,
} from '@warmbrick/contracts';
import type { NewPromotion, Store, StoredPromotion, StoredThresholdSet } from '@warmbrick/store';
import { brokenConstraints, promotionStartMs, rollbackOf } from '@warmbrick/tuning';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const tags = ['threshold sets'];
const byVersion = z.strictObject({ version: z.string().max(60) });
const byId = z.strictObject({ id: z.coerce.number().int().min(1).max(Number.MAX_SAFE_INTEGER) });
const problems = problemResponses(['invalid-request', 'store-unavailable']);
const setProblems = { ...problems, ...problemResponses(['set-not-found']) };
const promotionProblems = {
  ...setProblems,
  ...problemResponses(['whole-installation', 'set-not-approved', 'promotion-refused']),
};

/** Sets: listed, kept for good, approved by somebody else. */
export function thresholdSetRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/threshold-sets',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Threshold sets, the built-in one last',
          tags,
          response: { 200: thresholdSetListSchema, ...problems },
        },
      },
      async ({ store }) => ({ items: [...(await store.listThresholdSets()).map(setDocument), builtIn] }),
    );

    app.post(
      '/threshold-sets',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'Keeps a set for good under a version of its own',
          tags,
          body: newThresholdSetSchema,
          response: {
            201: thresholdSetDocumentSchema,
            ...problems,
            ...problemResponses(['set-exists', 'bad-threshold-set']),
          },
        },
      },
      async ({ body, caller, store }, reply) => {
        const { version, values, reason, trialId, needsApproval } = body;
        const set = checkedSet(version, values);
        const isNew = version !== builtInThresholds.version && version !== 'built-in';
        if (!isNew || !(await store.addThresholdSet({ set, author: caller.name, reason, trialId, needsApproval }))) {
          throw new ProblemError(
            'set-exists',
            `There is a set "${version}" already; sets never change. Take another version.`,
          );
        }
        reply.code(201).header('Location', `/v1/threshold-sets/${version}`);
        return setDocument(await requireSet(store, version));
      },
    );

    app.get(
      '/threshold-sets/:version',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'One set',
          tags,
          params: byVersion,
          response: { 200: thresholdSetDocumentSchema, ...setProblems },
        },
      },
      async ({ params: { version }, store }) =>
        version === builtInThresholds.version ? builtIn : setDocument(await requireSet(store, version)),
    );

    app.post(
      '/threshold-sets/:version/approval',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'A second pair of eyes: approves a set that somebody else made',
          tags,
          params: byVersion,
          response: { 200: thresholdSetDocumentSchema, ...setProblems, ...problemResponses(['own-set']) },
        },
      },
      async ({ params: { version }, caller, store }) => {
        const outcome = await store.approveThresholdSet(version, caller.name);
        if (outcome === 'unknown') throw noSet(version);
        if (outcome === 'own-set') {
          throw new ProblemError('own-set', `"${version}" is by ${caller.name}; somebody else has to look at it.`);
        }
        return setDocument(await requireSet(store, version));
      },
    );
  };
}

/** Promotions: the list that decides which set judges when. */
export function setPromotionRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/set-promotions',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Which set was promoted for what, from when, by whom',
          tags,
          response: { 200: promotionListSchema, ...problems },
        },
      },
      async ({ store }) => ({ items: (await store.listPromotions()).map(promotionDocument) }),
    );

    app.post(
      '/set-promotions',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'Promotes a set for all, a fleet, a class or a machine from a time on',
          tags,
          body: newPromotionSchema,
          response: { 201: promotionDocumentSchema, ...promotionProblems },
        },
      },
      async ({ body, caller, store }, reply) => {
        const { version, scope, from, recompute, reason } = body;
        if (version !== builtInThresholds.version) requireApproved(await requireSet(store, version));
        reply.code(201);
        return promote(store, {
          version: version === builtInThresholds.version ? null : version,
          scope,
          fromMs: startOf(from, recompute),
          isRecomputed: recompute,
          author: caller.name,
          reason,
        });
      },
    );

    app.post(
      '/set-promotions/:id/rollback',
      {
        config: { role: 'engineer' },
        schema: {
          summary: 'Takes a promotion back: what held in its scope before holds again',
          tags,
          params: byId,
          body: rollbackSchema,
          response: {
            201: promotionDocumentSchema,
            ...promotionProblems,
            ...problemResponses(['promotion-not-found']),
          },
        },
      },
      async ({ params: { id }, body: { recompute, reason }, caller, store }, reply) => {
        const promotions = await store.listPromotions();
        const undone = promotions.find((one) => one.id === id);
        if (undone === undefined) throw new ProblemError('promotion-not-found', `There is no promotion ${id}.`);
        // Anew from where it began, or from now on.
        const fromMs = recompute ? undone.fromMs : startOf(undefined, false);
        reply.code(201);
        const { version, scope } = rollbackOf(promotions, undone);
        return promote(store, { version, scope, fromMs, isRecomputed: recompute, author: caller.name, reason });
      },
    );
  };
}

async function promote(store: Store, promotion: NewPromotion): Promise<PromotionDocument> {
  return promotionDocument(await store.addPromotion(promotion));
}

function startOf(from: string | undefined, isRecomputed: boolean): number {
  const startMs = promotionStartMs(from === undefined ? null : Date.parse(from), { nowMs: Date.now(), isRecomputed });
  if (startMs !== null && startMs >= 0) return startMs;
  throw new ProblemError(
    'promotion-refused',
    'A set that leaves the past alone begins at least two minutes from now. Leave "from" out, name a later time, or recompute.',
  );
}

function checkedSet(version: string, values: Readonly<Record<string, number | undefined>>): ThresholdSet {
  const parsed = thresholdSetSchema.safeParse({ version, values });
  const wrong = parsed.success
    ? brokenConstraints(parsed.data.values)
    : parsed.error.issues.map((issue) => `${issue.path.slice(1).join('.')}: ${issue.message}`);
  if (parsed.success && wrong.length === 0) return parsed.data;
  throw new ProblemError('bad-threshold-set', `${wrong.join('; ')}.`);
}

function requireApproved({ set, needsApproval, approvedBy }: StoredThresholdSet): void {
  if (!needsApproval || approvedBy !== null) return;
  throw new ProblemError('set-not-approved', `"${set.version}" waits for somebody else than its author to approve it.`);
}

async function requireSet(store: Store, version: string): Promise<StoredThresholdSet> {
  const found = await store.getThresholdSet(version);
  if (found === null) throw noSet(version);
  return found;
}

function noSet(version: string): ProblemError {
  return new ProblemError('set-not-found', `There is no threshold set "${version}".`);
}

const builtIn: ThresholdSetDocument = {
  version: builtInThresholds.version,
  values: { ...builtInThresholds.values },
  author: 'Warmbrick',
  reason: 'comes with the program',
  trialId: null,
  needsApproval: false,
  approvedBy: null,
  createdAt: null,
};

function setDocument(stored: StoredThresholdSet): ThresholdSetDocument {
  const { set, author, reason, trialId, needsApproval, approvedBy, createdMs } = stored;
  return {
    version: set.version,
    values: { ...set.values },
    author,
    reason,
    trialId,
    needsApproval,
    approvedBy,
    createdAt: toInstant(createdMs),
  };
}

function promotionDocument(stored: StoredPromotion): PromotionDocument {
  const { id, version, scope, fromMs, isRecomputed, recomputedMachines, author, reason, createdMs } = stored;
  return {
    id,
    version,
    scope,
    from: toInstant(fromMs),
    isRecomputed,
    recomputedMachines,
    author,
    reason,
    createdAt: toInstant(createdMs),
  };
}
