/** What is ahead of one machine: its DEF tank, and its NOx conversion by temperature. */

import { defLevelsAhead } from '@warmbrick/analysis';
import {
  type DefOutlookAnswer,
  defOutlookAnswerSchema,
  type NoxAnswer,
  noxAnswerSchema,
  toInstant,
  toOutlookDocuments,
} from '@warmbrick/contracts';
import { profileWindow } from '@warmbrick/signals';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { machineParamsSchema, machineProblems, requireMachine } from './route-schemas.js';

/** Engine hours that the level is foretold for: every two up to a long day. Source: engineering judgement. */
const hoursAhead = Array.from({ length: 13 }, (_, k) => 2 * k);

/** GET /v1/machines/:machineId/def and /nox. */
export function outlookRoutes(): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/machines/:machineId/def',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'The DEF tank of one machine: level, how long it lasts, what to leave in it overnight',
          tags: ['machines'],
          params: machineParamsSchema,
          response: { 200: defOutlookAnswerSchema, ...machineProblems },
        },
      },
      async ({ store, params }): Promise<DefOutlookAnswer> => {
        const { machineId, lastSampleMs, summary } = await requireMachine(store, params.machineId);
        const { def: outlook } = toOutlookDocuments(summary);
        const levelsAhead = outlook === null ? [] : defLevelsAhead(outlook, hoursAhead);
        return { machineId, asOf: toInstant(lastSampleMs), outlook, levelsAhead };
      },
    );
    app.get(
      '/machines/:machineId/nox',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'NOx conversion of one machine by bins of exhaust temperature',
          tags: ['machines'],
          params: machineParamsSchema,
          response: { 200: noxAnswerSchema, ...machineProblems },
        },
      },
      async ({ store, params }): Promise<NoxAnswer> => {
        const { machineId, lastSampleMs, profile, summary } = await requireMachine(store, params.machineId);
        return {
          machineId,
          asOf: toInstant(lastSampleMs),
          dosingReleaseTempC: profile.dosingReleaseTempC,
          window: { ...profileWindow(profile) },
          bins: toOutlookDocuments(summary).noxBins,
        };
      },
    );
  };
}
