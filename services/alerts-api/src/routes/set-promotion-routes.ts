/** /v1/set-promotions: which set judges whom from when, who said so, and the way back. */

import { builtInThresholds } from '@warmbrick/analysis';
import {
  newPromotionSchema,
  type PromotionDocument,
  promotionDocumentSchema,
  promotionListSchema,
  rollbackSchema,
  toInstant,
} from '@warmbrick/contracts';
import type { NewPromotion, Store, StoredPromotion, StoredThresholdSet } from '@warmbrick/store';
import { promotionStartMs, rollbackOf } from '@warmbrick/tuning';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';
import { requireSet } from './threshold-set-routes.js';

const tags = ['threshold sets'];
const byId = z.strictObject({ id: z.coerce.number().int().min(1).max(Number.MAX_SAFE_INTEGER) });
const problems = problemResponses(['invalid-request', 'store-unavailable']);
const promotionProblems = {
  ...problems,
  ...problemResponses(['set-not-found', 'whole-installation', 'set-not-approved', 'promotion-refused']),
};

/** Promotions: the list that decides which set judges when. */
export function setPromotionRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    promoteSet(app);
    rollBack(app);
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
  };
}

type App = Parameters<FastifyPluginAsyncZod>[0];

function promoteSet(app: App): void {
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
}

function rollBack(app: App): void {
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

function requireApproved({ set, needsApproval, approvedBy }: StoredThresholdSet): void {
  if (!needsApproval || approvedBy !== null) return;
  throw new ProblemError('set-not-approved', `"${set.version}" waits for somebody else than its author to approve it.`);
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
