/** The description of the whole API, without a database behind it. */

import type { Store } from '@warmbrick/store';
import type { FastifyBaseLogger } from 'fastify';
import { buildApp } from './build-app.js';
import { createEventHub } from './events/event-hub.js';

/** OpenAPI 3.1 of every address, those that only some installations have included. */
export async function describeApi(): Promise<object> {
  const app = await buildApp({
    store: absentStore,
    logger: silentLogger,
    events: createEventHub(),
    telemetry: { receive: () => Promise.reject(new Error('only described')) },
  });
  try {
    await app.ready();
    return app.swagger();
  } finally {
    await app.close();
  }
}

/** Nothing is asked of it while the API is described. */
const absentStore = {} as Store;

const ignore = () => {};
const silentLogger: FastifyBaseLogger = {
  level: 'silent',
  silent: ignore,
  fatal: ignore,
  error: ignore,
  warn: ignore,
  info: ignore,
  debug: ignore,
  trace: ignore,
  child: () => silentLogger,
};
