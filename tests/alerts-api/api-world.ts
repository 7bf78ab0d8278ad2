/** The API on a real database with two fleets, a machine with everything in each, and a key for each role and fleet. */

import { type AppDeps, buildApp, createEventHub, type EventHub } from '@warmbrick/alerts-api';
import { type Role, roles } from '@warmbrick/contracts';
import { machineProfileSchema } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import type { FastifyBaseLogger, FastifyInstance } from 'fastify';
import pino from 'pino';
import { makeKey } from '../../services/alerts-api/src/access/key-text.js';
import { startTestServer } from '../store/postgres.js';
import { finding, secondsOf, seedMachine, workingRow } from './fleet.js';

export const worldStartMs = Date.UTC(2026, 2, 10, 6);

export interface ApiWorld {
  readonly app: FastifyInstance;
  readonly store: Store;
  readonly events: EventHub;
  readonly url: string;
  /** Key texts: `viewer` and so on for all fleets, `north-admin` and so on for one. */
  readonly keys: Readonly<Record<string, string>>;
  /** Everything that was logged. */
  readonly log: () => string;
  stop(): Promise<void>;
}

/** Starts it; machines `north-1` and `south-1`, whose texts all begin with the name of their fleet. */
export async function startApiWorld(deps: Partial<AppDeps> = {}): Promise<ApiWorld> {
  const server = await startTestServer();
  const url = await server.freshDatabase();
  const store = await server.openOn(url);
  for (const fleet of ['north', 'south']) {
    const machineId = `${fleet}-1`;
    await seedMachine(store, {
      machineId,
      fromMs: worldStartMs,
      toMs: worldStartMs + 3_600_000,
      rows: [workingRow(worldStartMs)],
      findings: [finding(machineId, worldStartMs)],
      samples: [secondsOf(machineId, worldStartMs, 100)],
    });
    await store.putMachine(
      machineId,
      machineProfileSchema.parse({ name: `${fleet} loader`, site: `${fleet} pit`, fleet }),
    );
  }
  const keys: Record<string, string> = {};
  const addKey = async (name: string, role: Role, fleets: 'all' | readonly string[]) => {
    const { keyId, text, secret } = makeKey();
    await store.addKey({ keyId, name, role, fleets, createdBy: 'test', expiresMs: null }, secret);
    keys[name] = text;
  };
  for (const role of roles) {
    await addKey(role, role, 'all');
    for (const fleet of ['north', 'south']) await addKey(`${fleet}-${role}`, role, [fleet]);
  }
  const lines: string[] = [];
  const logger = pino({ level: 'trace' }, { write: (line: string) => void lines.push(line) }) as FastifyBaseLogger;
  const events = createEventHub();
  const telemetry: AppDeps['telemetry'] = {
    receive: async ({ body, foreignMachines }) => {
      for await (const _ of body);
      const foreign = (await foreignMachines?.(['south-1'])) ?? [];
      if (foreign.length > 0) return { outcome: 'refused', why: 'not-yours', detail: 'Another fleet.', rejects: [] };
      const droppedValues = { unknownChannels: 0, notNumbers: 0, implausible: 0 };
      return { outcome: 'taken', isCommitted: true, receipt: { accepted: 1, rejected: 0, rejects: [], droppedValues } };
    },
  };
  // A busy machine is no failure of what is tested.
  const limits = { mostLoopDelayMs: 0, ...deps.limits };
  const app = await buildApp({ store, logger, events, telemetry, ...deps, limits });
  return {
    app,
    store,
    events,
    url,
    keys,
    log: () => lines.join(''),
    stop: async () => {
      await app.close();
      await server.stop();
    },
  };
}

/** The header that a key goes into. */
export function asKey(key: string | undefined): Record<string, string> {
  return key === undefined ? {} : { authorization: `Bearer ${key}` };
}
