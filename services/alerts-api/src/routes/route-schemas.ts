/** Schemas that several routes share. */

import { problemSchema } from '@warmbrick/contracts';
import type { Store, StoredMachine } from '@warmbrick/store';
import { z } from 'zod';
import { type ProblemCode, ProblemError, problemKind } from '../http/problem.js';

/** The path parameter of everything about one machine. */
export const machineParamsSchema = z.strictObject({ machineId: z.string().min(1).max(120) });

/** The problems a route can answer with, for the description of the API. */
export function problemResponses(codes: readonly ProblemCode[]) {
  const statuses = new Set(codes.map((code) => problemKind(code).status));
  return Object.fromEntries(
    [...statuses].map((status) => [
      status,
      {
        description: codes.filter((code) => problemKind(code).status === status).join(', '),
        content: { 'application/problem+json': { schema: problemSchema } },
      },
    ]),
  );
}

/** What every read of a machine can fail with. */
export const machineProblems = problemResponses([
  'invalid-request',
  'bad-cursor',
  'machine-not-found',
  'too-many-requests',
  'store-unavailable',
  'overloaded',
]);

/** Errors: the problem `machine-not-found`. */
export async function requireMachine(store: Store, machineId: string): Promise<StoredMachine> {
  const machine = await store.getMachine(machineId);
  if (machine !== null) return machine;
  throw new ProblemError('machine-not-found', `No machine "${machineId}" is known. GET /v1/machines lists all.`);
}

/** Lets machines through that never sent a sample, such as those that only report fault codes. Errors: as `requireMachine`. */
export async function requireKnownMachine(store: Store, machineId: string): Promise<void> {
  if ((await store.loadProfile(machineId)) !== null) return;
  throw new ProblemError('machine-not-found', `No machine "${machineId}" is known. GET /v1/machines lists all.`);
}
