/** Steps of alerts as other processes commit them: the database tells of them, and what was missed is read again. */

import type { AlertEvent } from '@warmbrick/alerting';
import pg from 'pg';
import type { Database, Session } from './database.js';

/** Channel of the notices. Source: PostgreSQL documentation, NOTIFY. */
const channel = 'warmbrick_alert';
/** Steps told of in one notice: a notice holds at most 8000 bytes, and a name of a step at most 200 characters of up to 4 bytes. */
const perNotice = 8;
/** Waits before a lost connection is tried again, ms. */
const firstWaitMs = 250;
const longestWaitMs = 10_000;
/** Steps read after a lost connection at most; whoever was away longer reads the lists anew. */
const mostMissed = 2000;
/** Steps remembered so that none is told twice. */
const remembered = 5000;

export interface AlertFeed {
  stop(): Promise<void>;
}

/** Tells of steps within the transaction that writes them; nobody hears of it before the commit, or if there is none. */
export async function noticeAlerts(session: Session, events: readonly AlertEvent[]): Promise<void> {
  for (let from = 0; from < events.length; from += perNotice) {
    const names = events.slice(from, from + perNotice).map(({ episodeId, sequence }) => [episodeId, sequence]);
    await session.query({
      name: 'notice-alerts',
      text: 'SELECT pg_notify($1, $2)',
      values: [channel, JSON.stringify(names)],
    });
  }
}

export interface FeedOptions {
  readonly connection: pg.ClientConfig;
  readonly database: Database;
  readonly now: () => number;
  readonly onEvents: (events: readonly AlertEvent[]) => void;
}

/** Follows from now on, over a connection of its own, until stopped. Errors: none; a lost connection is made anew. */
export function followAlerts({ connection, database, now, onEvents }: FeedOptions): AlertFeed {
  const told = new Set<string>();
  let client: pg.Client | null = null;
  let isStopped = false;
  let waitMs = firstWaitMs;
  let heardMs = now();
  let timer: NodeJS.Timeout | null = null;

  const tell = (events: readonly AlertEvent[]) => {
    const fresh = events.filter((event) => !told.has(nameOf(event)));
    for (const event of fresh) told.add(nameOf(event));
    while (told.size > remembered) told.delete(told.values().next().value as string);
    heardMs = Math.max(heardMs, ...fresh.map(({ learnedMs }) => learnedMs));
    if (fresh.length > 0) onEvents(fresh);
  };
  const again = () => {
    client?.removeAllListeners();
    client?.on('error', () => {});
    client?.end().catch(() => {});
    client = null;
    if (isStopped || timer !== null) return;
    timer = setTimeout(connect, waitMs);
    waitMs = Math.min(2 * waitMs, longestWaitMs);
  };
  const connect = () => {
    timer = null;
    const own = new pg.Client(connection);
    client = own;
    own.on('error', again);
    own.on('end', again);
    own.on('notification', ({ payload }) => {
      readNamed(database, payload ?? '[]').then(tell, again);
    });
    own
      .connect()
      .then(() => own.query(`LISTEN ${channel}`))
      .then(() => readSince(database, heardMs))
      .then((events) => {
        tell(events);
        waitMs = firstWaitMs;
      })
      .catch(again);
  };
  connect();
  return {
    async stop() {
      isStopped = true;
      if (timer !== null) clearTimeout(timer);
      client?.removeAllListeners();
      client?.on('error', () => {});
      await client?.end().catch(() => {});
    },
  };
}

function nameOf({ episodeId, sequence }: AlertEvent): string {
  return `${episodeId}.${sequence}`;
}

async function readNamed(session: Session, payload: string): Promise<AlertEvent[]> {
  const names = JSON.parse(payload) as [string, number][];
  const { rows } = await session.query({
    name: 'read-noticed',
    text: `SELECT e.body FROM unnest($1::text[], $2::int4[]) WITH ORDINALITY AS t(episode_id, sequence, n)
      JOIN alert_event e USING (episode_id, sequence) ORDER BY t.n`,
    values: [names.map(([episodeId]) => episodeId), names.map(([, sequence]) => sequence)],
  });
  return rows.map(({ body }) => body as AlertEvent);
}

async function readSince(session: Session, learnedMs: number): Promise<AlertEvent[]> {
  const { rows } = await session.query({
    name: 'read-missed',
    text: `SELECT body FROM alert_event WHERE learned >= $1 ORDER BY learned, episode_id, sequence LIMIT ${mostMissed}`,
    values: [Math.floor(learnedMs)],
  });
  return rows.map(({ body }) => body as AlertEvent);
}
