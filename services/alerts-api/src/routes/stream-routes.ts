/** GET /v1/stream: what changes, as server-sent events. Source of the format: WHATWG HTML, 9.2 Server-sent events. */

import { problemSchema } from '@warmbrick/contracts';
import type { FastifyReply } from 'fastify';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { Access } from '../access/access.js';
import type { Caller } from '../access/caller.js';
import type { AppDeps, AppLimits } from '../app-deps.js';
import { cutToFleets } from '../events/cut-to-fleets.js';
import type { EventHub, HubEvent, HubListener } from '../events/event-hub.js';
import { createFleetIndex, type FleetIndex } from '../events/fleet-index.js';
import { ProblemError } from '../http/problem.js';

/** How long a client waits before it connects again. Source: engineering judgement. */
const retryMs = 2000;
/** A backlog of this many limits is dropped without patience. Source: engineering judgement. */
const mostBacklogRatio = 8;

/** The event stream. Closing the app ends every stream. */
export function streamRoutes({ events, store }: AppDeps, { limits, access }: StreamRules): FastifyPluginAsyncZod {
  return async (app) => {
    const index = createFleetIndex(store);
    const open = new Set<() => void>();
    app.addHook('preClose', async () => {
      for (const close of open) close();
    });
    app.get(
      '/stream',
      {
        exposeHeadRoute: false,
        config: { role: 'viewer' },
        schema: {
          summary:
            'Changes as they happen: events `machine` (MachineEvent), `finding` (Finding), `alert` (AlertMessage), `resync`',
          description:
            'Each event has an id; a client that sends it as Last-Event-ID gets what it missed. When that is no longer ' +
            'known, the first event is `resync`: read everything again.',
          tags: ['stream'],
          headers: z.looseObject({ 'last-event-id': z.string().max(100).optional() }),
          response: {
            200: { description: 'Events.', content: { 'text/event-stream': { schema: z.string() } } },
            503: {
              description: 'too-many-streams, overloaded',
              content: { 'application/problem+json': { schema: problemSchema } },
            },
          },
        },
      },
      async (request, reply) => {
        if (open.size >= limits.streams) {
          throw new ProblemError('too-many-streams', `At most ${limits.streams} streams can be open. Try again later.`);
        }
        const { caller } = request;
        const isStillIn = async () => {
          const now = await access.identify(request).catch(() => null);
          return now !== null && now.keyId === caller.keyId && sameFleets(now.fleets, caller.fleets);
        };
        const lastEventId = request.headers['last-event-id'];
        startStream(reply, { events, limits, open, lastEventId, fleets: caller.fleets, index, isStillIn });
        return reply;
      },
    );
  };
}

export interface StreamRules {
  readonly limits: AppLimits;
  readonly access: Access;
}

function sameFleets(a: Caller['fleets'], b: Caller['fleets']): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}

interface StreamOptions {
  readonly events: EventHub;
  readonly limits: AppLimits;
  readonly open: Set<() => void>;
  readonly lastEventId: string | undefined;
  readonly fleets: Caller['fleets'];
  readonly index: FleetIndex;
  /** Whether whoever opened it may still listen: keys expire and are revoked. */
  readonly isStillIn: () => Promise<boolean>;
}

function startStream(reply: FastifyReply, options: StreamOptions): void {
  const { limits, open, isStillIn } = options;
  reply.hijack();
  const { raw } = reply;
  raw.writeHead(200, {
    ...withoutCaching(reply.getHeaders()),
    'Content-Type': 'text/event-stream; charset=utf-8',
    'Cache-Control': 'no-store',
    // Asks proxies not to collect the stream.
    'X-Accel-Buffering': 'no',
  });

  const watch = watchBacklog(reply, limits);
  const write = (text: string) => {
    if (raw.writableEnded || raw.destroyed) return;
    raw.write(text);
    watch();
  };
  const close = () => raw.end();
  const stopListening = listen(options, write);
  const heartbeat = setInterval(async () => {
    if (await isStillIn()) write(': still here\n\n');
    else close();
  }, limits.heartbeatMs);
  heartbeat.unref();
  open.add(close);
  raw.on('close', () => {
    clearInterval(heartbeat);
    stopListening();
    open.delete(close);
  });
}

/** Writes how the stream begins, what was missed, and what comes; returns how to stop. */
function listen(options: StreamOptions, write: (text: string) => void): () => void {
  const { events, fleets, index, lastEventId } = options;
  const deliver: HubListener = (event) => write(formatEvent(event));
  const resync = () => write(`id: ${events.latestId()}\nevent: resync\ndata: {}\n\n`);
  const listener = fleets === 'all' ? deliver : cutToFleets({ fleets, index, deliver, onLost: resync });
  write(`retry: ${retryMs}\n`);
  const missed = lastEventId === undefined || lastEventId === '' ? undefined : events.eventsAfter(lastEventId);
  if (missed === undefined) write(`id: ${events.latestId()}\n\n`);
  else if (missed === null) resync();
  else {
    write('\n');
    missed.forEach(listener);
  }
  return events.listen(listener);
}

/**
 * Drops a listener that does not read: it would make us keep everything for it, and it can resume with its last id. A burst
 * may stand above the limit for a moment, so it is looked at after the burst, and only what stays there counts.
 */
function watchBacklog(reply: FastifyReply, { streamBacklogBytes, streamGraceMs }: AppLimits): () => void {
  const { raw } = reply;
  let slowSinceMs: number | null = null;
  let isCheckDue = false;
  const check = () => {
    isCheckDue = false;
    const backlogBytes = raw.writableLength;
    if (raw.destroyed || backlogBytes <= streamBacklogBytes) {
      slowSinceMs = null;
      return;
    }
    slowSinceMs ??= performance.now();
    const isPatienceOver = performance.now() - slowSinceMs > streamGraceMs;
    if (!isPatienceOver && backlogBytes <= streamBacklogBytes * mostBacklogRatio) return;
    reply.log.warn({ backlogBytes }, 'event stream dropped: listener too slow');
    raw.destroy();
  };
  raw.on('drain', () => {
    slowSinceMs = null;
  });
  return () => {
    if (isCheckDue) return;
    isCheckDue = true;
    setImmediate(check);
  };
}

function withoutCaching(headers: Record<string, unknown>): Record<string, string> {
  const { 'cache-control': _, ...others } = headers as Record<string, string>;
  return others;
}

function formatEvent({ id, name, data }: HubEvent): string {
  return `id: ${id}\nevent: ${name}\ndata: ${data}\n\n`;
}
