/** The app on a store in memory. */

import { type AppDeps, buildApp, createEventHub, type EventHub } from '@warmbrick/alerts-api';
import type { FastifyBaseLogger, FastifyInstance } from 'fastify';
import { createMemoryStore, type MemoryStore } from './memory-store.js';

export interface TestApp {
  readonly app: FastifyInstance;
  readonly store: MemoryStore;
  readonly events: EventHub;
  /** What was logged at level error. */
  readonly errors: unknown[];
}

export async function startTestApp(deps: Partial<AppDeps> = {}): Promise<TestApp> {
  const store = createMemoryStore();
  const events = deps.events ?? createEventHub();
  const errors: unknown[] = [];
  // Answers are computed after each change: a test does not wait until one has rested.
  // Nor does it fail because other programs keep the machine busy.
  const limits = { answerRestRatio: 0, mostLoopDelayMs: 0, ...deps.limits };
  const app = await buildApp({ store, logger: recordingLogger(errors), ...deps, events, limits });
  return { app, store, events, errors };
}

function recordingLogger(errors: unknown[]): FastifyBaseLogger {
  const ignore = () => {};
  const logger: FastifyBaseLogger = {
    level: 'info',
    silent: ignore,
    fatal: ignore,
    error: (...args: unknown[]) => void errors.push(args),
    warn: ignore,
    info: ignore,
    debug: ignore,
    trace: ignore,
    child: () => logger,
  };
  return logger;
}
