/** The HTTP side of the project: API, event stream and the console's files. */

import type { Socket } from 'node:net';
import swagger from '@fastify/swagger';
import underPressure from '@fastify/under-pressure';
import Fastify, { type FastifyInstance, LogController } from 'fastify';
import { type FastifyPluginAsyncZod, validatorCompiler } from 'fastify-type-provider-zod';
import { type Access, createAccess } from './access/access.js';
import { describeAccess, describeComponents, securitySchemes } from './access/describe-access.js';
import { enforceRoles } from './access/enforce-roles.js';
import type { AppDeps, AppLimits } from './app-deps.js';
import { auditWrites } from './http/audit-writes.js';
import { hasConsole, sendConsolePage, serveConsole } from './http/console-files.js';
import { installEntityTags } from './http/entity-tags.js';
import { installGuards, usualRequestsPerMinute } from './http/guards.js';
import { installIdempotency } from './http/idempotency.js';
import { ProblemError, problemDocument, problemOf, retryAfterS } from './http/problem.js';
import { installProblemHandlers, sendProblem } from './http/problem-handlers.js';
import { refuseNul } from './http/refuse-nul.js';
import { installSparseFields } from './http/sparse-fields.js';
import { alertRoutes } from './routes/alert-routes.js';
import { auditRoutes } from './routes/audit-routes.js';
import { comparisonRoutes } from './routes/comparison-routes.js';
import { defBatchRoutes } from './routes/def-batch-routes.js';
import { deliveryRoutes } from './routes/delivery-routes.js';
import { derateRoutes } from './routes/derate-routes.js';
import { destinationRoutes } from './routes/destination-routes.js';
import { faultRoutes, faultTextRoutes } from './routes/fault-routes.js';
import { findingRoutes } from './routes/finding-routes.js';
import { fleetRoutes } from './routes/fleet-routes.js';
import { handoverRoutes } from './routes/handover-routes.js';
import { healthRoutes } from './routes/health-routes.js';
import { keyRoutes } from './routes/key-routes.js';
import { machineRoutes } from './routes/machine-routes.js';
import { maintenanceRoutes } from './routes/maintenance-routes.js';
import { outlookRoutes } from './routes/outlook-routes.js';
import { profileRoutes } from './routes/profile-routes.js';
import { recordingRoutes } from './routes/recording-routes.js';
import { residencyRoutes } from './routes/residency-routes.js';
import { ruleRoutes } from './routes/rule-routes.js';
import { sampleColumnRoutes } from './routes/sample-column-routes.js';
import { sampleRoutes } from './routes/sample-routes.js';
import { scoreRoutes } from './routes/score-routes.js';
import { serviceRoutes } from './routes/service-routes.js';
import { sessionRoutes } from './routes/session-routes.js';
import { setPromotionRoutes } from './routes/set-promotion-routes.js';
import { shiftRoutes } from './routes/shift-routes.js';
import { streamRoutes } from './routes/stream-routes.js';
import { telemetryRoutes } from './routes/telemetry-routes.js';
import { thresholdSetRoutes } from './routes/threshold-set-routes.js';
import { trialRoutes } from './routes/trial-routes.js';

/** Source of all limits: engineering judgement. */
const usualLimits: AppLimits = {
  requestsPerMinute: usualRequestsPerMinute,
  answerRestRatio: 20,
  mostLoopDelayMs: 3000,
  streams: 2000,
  streamBacklogBytes: 256 * 1024,
  streamGraceMs: 5000,
  heartbeatMs: 15_000,
};
/** Body at most, in bytes. Only telemetry is larger, and counts for itself. */
const bodyLimitBytes = 64 * 1024;
/** Longest path parameter; a longer one is an address we do not have. */
const longestParameter = 300;
const requestTimeoutMs = 30_000;

/**
 * Builds the app; `ready()` or `listen()` starts it. Routes may still be added before that.
 *
 * Errors: none of its own; the plugins' when they do not load.
 */
export async function buildApp(deps: AppDeps): Promise<FastifyInstance> {
  const limits = { ...usualLimits, ...deps.limits };
  const app = Fastify({
    loggerInstance: deps.logger,
    logController: new LogController({ disableRequestLogging: true }),
    bodyLimit: bodyLimitBytes,
    requestTimeout: requestTimeoutMs,
    routerOptions: { maxParamLength: longestParameter },
    return503OnClosing: true,
    forceCloseConnections: true,
    frameworkErrors: (error, _request, reply) => sendProblem(reply, problemOf(error) ?? unreadable),
    clientErrorHandler: answerUnreadable,
  });
  app.setValidatorCompiler(validatorCompiler);
  // Answers are built from typed values and checked against their schemas by the contract tests, not once per request.
  app.setSerializerCompiler(() => (body) => JSON.stringify(body));

  const siteDir = hasConsole(deps.siteDir) ? deps.siteDir : undefined;
  installProblemHandlers(app, { sendPage: siteDir === undefined ? () => false : sendConsolePage });
  const access = createAccess(deps.store, deps.logger, deps.access);
  enforceRoles(app, { store: deps.store, identify: access.identify });
  installSparseFields(app);
  // Before compression, which turns bodies into streams.
  installEntityTags(app);
  await installGuards(app, { requestsPerMinute: limits.requestsPerMinute, hostNames: deps.hostNames });
  refuseNul(app);
  installIdempotency(app, deps.store);
  auditWrites(app, deps.store);
  await app.register(swagger, {
    openapi: { openapi: '3.1.0', info: apiTitle, servers: [{ url: '/' }], components: { securitySchemes } },
    transform: describeAccess,
    transformObject: describeComponents,
  });

  await app.register(healthRoutes(deps));
  await app.register(
    async (v1) => {
      await v1.register(underPressure, { maxEventLoopDelay: limits.mostLoopDelayMs, pressureHandler: refuse });
      v1.addHook('onRequest', async (_request, reply) => {
        reply.header('Cache-Control', 'private, no-cache');
      });
      for (const resource of resources({ deps, limits, access })) await v1.register(resource);
      await v1.register(streamRoutes(deps, { limits, access }));
      if (deps.telemetry !== undefined) await v1.register(telemetryRoutes(deps.telemetry, deps.store));
    },
    { prefix: '/v1' },
  );
  if (siteDir !== undefined) await serveConsole(app, siteDir);
  return app;
}

/** The resources, each a plugin; they read and write through the store of the request. */
function resources({
  deps,
  limits,
  access,
}: {
  deps: AppDeps;
  limits: AppLimits;
  access: Access;
}): FastifyPluginAsyncZod[] {
  return [
    sessionRoutes(access),
    keyRoutes(access),
    fleetRoutes(),
    auditRoutes(deps),
    machineRoutes(deps, limits),
    profileRoutes(deps),
    scoreRoutes(),
    recordingRoutes(),
    findingRoutes(),
    residencyRoutes(),
    outlookRoutes(),
    comparisonRoutes(),
    sampleRoutes(),
    sampleColumnRoutes(),
    alertRoutes(),
    ruleRoutes(),
    maintenanceRoutes(),
    destinationRoutes(),
    faultRoutes(),
    faultTextRoutes(),
    derateRoutes(),
    handoverRoutes(),
    serviceRoutes(),
    defBatchRoutes(),
    shiftRoutes(),
    deliveryRoutes(),
    thresholdSetRoutes(),
    setPromotionRoutes(),
    trialRoutes(),
  ];
}

const apiTitle = {
  title: 'Warmbrick',
  version: '1',
  license: { name: 'MIT', identifier: 'MIT' },
  description:
    'Exhaust aftertreatment of diesel machines: risk, findings, residency, samples. Times are RFC 3339, errors RFC 9457.',
};

const unreadable = new ProblemError('invalid-request', 'The request is not readable HTTP, or its head is too long.');

/** Answers what never became a request; there is nothing to reply through but the socket. */
function answerUnreadable(_error: Error, socket: Socket): void {
  if (!socket.writable) return void socket.destroy();
  const body = JSON.stringify(problemDocument(unreadable, ''));
  socket.end(
    `HTTP/1.1 400 Bad Request\r\nContent-Type: application/problem+json\r\nContent-Length: ${Buffer.byteLength(body)}\r\n` +
      `Connection: close\r\n\r\n${body}`,
  );
}

function refuse(): never {
  throw new ProblemError('overloaded', `The process is too busy. Try again in ${retryAfterS} s.`);
}
