/** GET /v1/machines and /v1/machines/:machineId. */

import { type MachineList, machineDetailSchema, machineListQuerySchema, machineListSchema } from '@warmbrick/contracts';
import type { MachinePage, Store } from '@warmbrick/store';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import type { AppDeps, AppLimits } from '../app-deps.js';
import { type MachineDay, machineDetail, machineItem } from '../http/machine-document.js';
import { sendReady } from '../http/send-ready.js';
import { pickFields } from '../http/sparse-fields.js';
import { createAnswerCache } from './answer-cache.js';
import { loadMachineDays } from './machine-days.js';
import { machineParamsSchema, machineProblems, requireMachine } from './route-schemas.js';

/** The fleet page and the head of the machine page. */
export function machineRoutes({ events }: AppDeps, limits: AppLimits): FastifyPluginAsyncZod {
  const answers = createAnswerCache({ restRatio: limits.answerRestRatio });
  return async (app) => {
    app.get(
      '/machines',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'Machines with their risk and their last day',
          tags: ['machines'],
          querystring: machineListQuerySchema,
          response: { 200: machineListSchema, ...machineProblems },
        },
      },
      async (request, reply) => {
        const { fleet, ...page } = request.query;
        const { store, caller, fields } = request;
        const question: MachinePage = { ...page, fleets: fleet === undefined ? undefined : [fleet] };
        const key = JSON.stringify([caller.fleets, fields, question]);
        const answer = await answers.get(key, events.version(), async () =>
          JSON.stringify(pickFields(await listMachines(store, question), fields)),
        );
        return sendReady(request, reply, answer);
      },
    );

    app.get(
      '/machines/:machineId',
      {
        config: { role: 'viewer' },
        schema: {
          summary: 'One machine with everything observed so far',
          tags: ['machines'],
          params: machineParamsSchema,
          response: { 200: machineDetailSchema, ...machineProblems },
        },
      },
      async (request) => {
        const { store } = request;
        const machine = await requireMachine(store, request.params.machineId);
        const [day] = await loadMachineDays(store, [machine]);
        return machineDetail(machine, day as MachineDay);
      },
    );
  };
}

async function listMachines(store: Store, page: MachinePage): Promise<MachineList> {
  const { items, nextCursor } = await store.listMachines(page);
  const days = await loadMachineDays(store, items);
  return { items: items.map((machine, at) => machineItem(machine, days[at] as MachineDay)), nextCursor };
}
