/** /v1/threshold-sets: sets that were kept, each under a version of its own. */

import { builtInThresholds, type ThresholdSet, thresholdSetSchema } from '@warmbrick/analysis';
import {
  newThresholdSetSchema,
  type ThresholdSetDocument,
  thresholdSetDocumentSchema,
  thresholdSetListSchema,
  toInstant,
} from '@warmbrick/contracts';
import type { Store, StoredThresholdSet } from '@warmbrick/store';
import { brokenConstraints } from '@warmbrick/tuning';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import { ProblemError } from '../http/problem.js';
import { problemResponses } from './route-schemas.js';

const tags = ['threshold sets'];
const byVersion = z.strictObject({ version: z.string().max(60) });
const problems = problemResponses(['invalid-request', 'store-unavailable']);
const setProblems = { ...problems, ...problemResponses(['set-not-found']) };

/** Sets: listed, kept for good, approved by somebody else. */
export function thresholdSetRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    readSets(app);
    keepSet(app);
    approveSet(app);
  };
}

type App = Parameters<FastifyPluginAsyncZod>[0];

function readSets(app: App): void {
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
}

function keepSet(app: App): void {
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
}

function approveSet(app: App): void {
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
}

function checkedSet(version: string, values: Readonly<Record<string, number | undefined>>): ThresholdSet {
  const parsed = thresholdSetSchema.safeParse({ version, values });
  const wrong = parsed.success
    ? brokenConstraints(parsed.data.values)
    : parsed.error.issues.map((issue) => `${issue.path.slice(1).join('.')}: ${issue.message}`);
  if (parsed.success && wrong.length === 0) return parsed.data;
  throw new ProblemError('bad-threshold-set', `${wrong.join('; ')}.`);
}

/** A kept set. Errors: the problem `set-not-found`. */
export async function requireSet(store: Store, version: string): Promise<StoredThresholdSet> {
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
