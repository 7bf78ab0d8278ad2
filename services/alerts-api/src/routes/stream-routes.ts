/** GET /v1/stream: what changes, as server-sent events. Source of the format: WHATWG HTML, 9.2 Server-sent events. */

import { problemSchema } from '@warmbrick/contracts';
import type { FastifyReply } from 'fastify';
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { AppDeps, AppLimits } from '../app-deps.js';
import type { EventHub, HubEvent } from '../events/event-hub.js';
import { ProblemError } from '../http/problem.js';

/** How long a client waits before it connects again. Source: engineering judgement. */
const retryMs = 2000;
/** A backlog of this many limits is dropped without patience. Source: engineering judgement. */
const mostBacklogRatio = 8;

/** The event stream. Closing the app ends every stream. */
export function streamRoutes({ events }: AppDeps, limits: AppLimits): FastifyPluginAsyncZod {
  return async (app) => {
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
          summary: 'Changes as they happen: events `machine` (MachineEvent), `finding` (Finding), `resync`',
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
        startStream(reply, { events, limits, open, lastEventId: request.headers['last-event-id'] });
        return reply;
      },
    );
  };
}

interface StreamOptions {
  readonly events: EventHub;
  readonly limits: AppLimits;
  readonly open: Set<() => void>;
  readonly lastEventId: string | undefined;
}

function startStream(reply: FastifyReply, { events, limits, open, lastEventId }: StreamOptions): void {
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
    raw.write(text);
    watch();
  };
  const stopListening = events.listen((event) => write(formatEvent(event)));
  const heartbeat = setInterval(() => write(': still here\n\n'), limits.heartbeatMs);
  heartbeat.unref();
  const close = () => raw.end();
  open.add(close);
  raw.on('close', () => {
    clearInterval(heartbeat);
    stopListening();
    open.delete(close);
  });

  write(`retry: ${retryMs}\n${openingOf(events, lastEventId)}`);
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

function openingOf(events: EventHub, lastEventId: string | undefined): string {
  if (lastEventId === undefined || lastEventId === '') return `id: ${events.latestId()}\n\n`;
  const missed = events.eventsAfter(lastEventId);
  if (missed === null) return `id: ${events.latestId()}\nevent: resync\ndata: {}\n\n`;
  return `\n${missed.map(formatEvent).join('')}`;
}

function formatEvent({ id, name, data }: HubEvent): string {
  return `id: ${id}\nevent: ${name}\ndata: ${data}\n\n`;
}
