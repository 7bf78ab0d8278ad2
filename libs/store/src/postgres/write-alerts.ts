/** Writes what a fold gives: the state, the alerts, their steps, and messages about them. The machine's row is locked. */

import type { Folded } from '@warmbrick/alerting';
import { noticeAlerts } from './alert-feed.js';
import type { Session } from './database.js';
import { nowSql } from './outbox.js';

const alertsTopic = 'aftertreatment.alerts.v1';

export interface FoldedMachine {
  readonly machineId: string;
  readonly folded: Folded;
  /** Version to write; the same as before when the state is as it was. */
  readonly version: number;
  readonly isStateChanged: boolean;
  readonly nextDueMs: number | null;
}

/** Writes everything of several machines in four statements at most. */
export async function writeAlerts(
  session: Session,
  machines: readonly FoldedMachine[],
  hasOutbox: boolean,
): Promise<void> {
  await writeAlertStates(
    session,
    machines.filter(({ isStateChanged }) => isStateChanged),
  );
  const alerts = machines.flatMap(({ folded }) => folded.alerts);
  if (alerts.length > 0) {
    await session.query({
      name: 'write-alerts',
      text: `INSERT INTO alert (episode_id, machine_id, rule_id, site, condition, severity, is_open, is_acknowledged, is_past,
          started, learned, finding_id, revision, body)
        SELECT a->>'episodeId', a->>'machineId', a->>'ruleId', a->'group'->>'site', a->>'condition', a->>'severity',
          a->>'condition' <> 'clear', (a->'operator'->>'isAcknowledged')::bool, (a->>'isPast')::bool,
          (a->>'startedMs')::float8::int8, coalesce((a->>'learnedMs')::float8::int8, 0), a->>'findingId',
          (a->>'sequence')::int8, a
        FROM unnest($1::json[]) AS t(a)
        ON CONFLICT (episode_id) DO UPDATE SET site = excluded.site, condition = excluded.condition,
          severity = excluded.severity, is_open = excluded.is_open, is_acknowledged = excluded.is_acknowledged,
          is_past = excluded.is_past, started = excluded.started, learned = excluded.learned,
          finding_id = excluded.finding_id, revision = excluded.revision, body = excluded.body`,
      values: [alerts.map((alert) => JSON.stringify(alert))],
    });
  }
  const events = machines.flatMap(({ folded }) => folded.events);
  if (events.length === 0) return;
  await session.query({
    name: 'write-alert-events',
    text: `INSERT INTO alert_event (episode_id, sequence, machine_id, step, actor, learned, body)
      SELECT e->>'episodeId', (e->>'sequence')::int4, e->>'machineId', e->>'step', e->>'actor',
        (e->>'learnedMs')::float8::int8, e
      FROM unnest($1::json[]) AS t(e)`,
    values: [events.map((event) => JSON.stringify(event))],
  });
  await noticeAlerts(session, events);
  if (!hasOutbox) return;
  await session.query({
    name: 'tell-alerts',
    text: `INSERT INTO outbox (topic, key, subject_id, revision, payload, at)
      SELECT '${alertsTopic}', e->>'machineId', e->>'episodeId', (e->>'sequence')::int4, e, ${nowSql}
      FROM unnest($1::json[]) WITH ORDINALITY AS t(e, n) ORDER BY n`,
    values: [events.map((event) => JSON.stringify(event))],
  });
}

async function writeAlertStates(session: Session, machines: readonly FoldedMachine[]): Promise<void> {
  if (machines.length === 0) return;
  await session.query({
    name: 'write-alert-states',
    text: `INSERT INTO alert_state (machine_id, version, next_due, body)
      SELECT machine_id, version, next_due, body::json
      FROM unnest($1::text[], $2::int8[], $3::int8[], $4::text[]) AS t(machine_id, version, next_due, body)
      ON CONFLICT (machine_id) DO UPDATE SET version = excluded.version, next_due = excluded.next_due, body = excluded.body`,
    values: [
      machines.map(({ machineId }) => machineId),
      machines.map(({ version }) => version),
      machines.map(({ nextDueMs }) => (nextDueMs === null ? null : Math.ceil(nextDueMs))),
      machines.map(({ folded }) => JSON.stringify(folded.state)),
    ],
  });
}
