/** Alerts for tests of the notifier, written into the outbox as a commit would. */

import { type AlertEvent, episodeIdOf, untouched } from '@warmbrick/alerting';
import type { Destination } from '@warmbrick/store';
import { runSql } from '../store/postgres.js';

const startedMs = Date.UTC(2026, 10, 10, 9);

/** One step of the alert of a machine whose idle passed an hour. */
export function alertEvent(machineId: string, sequence: number, other: Partial<AlertEvent> = {}): AlertEvent {
  const episodeId = episodeIdOf(machineId, 'idle-hour', startedMs);
  const isOver = other.step === 'closed';
  const atMs = startedMs + (sequence + 1) * 3_600_000;
  const words = {
    title: 'Idle for over an hour',
    text: 'It has been idling for 61 min <with> "marks".',
    advice: 'Switch it off after five minutes at base idle, when it is safe to do so.',
    caution: 'The manual of the machine comes first.',
  };
  return {
    episodeId,
    machineId,
    sequence,
    step: 'opened',
    notice: 'page',
    quietBecause: null,
    from: isOver ? 'active' : 'clear',
    to: isOver ? 'clear' : 'active',
    corrects: null,
    atMs,
    learnedMs: atMs + 500,
    actor: null,
    note: null,
    escalateTo: null,
    words,
    alert: {
      episodeId,
      machineId,
      ruleId: 'idle-hour',
      group: { site: 'Skarnfell', machineName: `Loader ${machineId}`, machineClass: 'loader', timeZone: 'Europe/Oslo' },
      condition: isOver ? 'clear' : 'active',
      severity: 'warning',
      startedMs,
      openedMs: startedMs + 3_600_000,
      endedMs: isOver ? atMs : null,
      learnedMs: startedMs + 3_600_500,
      pendingMs: null,
      judgedMs: atMs,
      pagedMs: null,
      isPast: false,
      isWithdrawn: false,
      sequence,
      toldSequence: sequence,
      lastAtMs: atMs,
      findingId: null,
      figures: { durationS: 3660 },
      thresholdSet: 'built-in',
      operator: untouched,
      words,
    },
    ...other,
  };
}

/** Puts events into the outbox. */
export async function writeOutbox(url: string, events: readonly AlertEvent[]): Promise<void> {
  await runSql(
    url,
    `INSERT INTO outbox (topic, key, subject_id, revision, payload, at)
      SELECT 'aftertreatment.alerts.v1', e->>'machineId', e->>'episodeId', (e->>'sequence')::int, e, 0
      FROM json_array_elements($1::json) AS e`,
    [JSON.stringify(events)],
  );
}

/** A destination that hears of everything of the fleet "main". */
export function destinationOf(id: string, other: Partial<Destination> = {}): Destination {
  return {
    id,
    fleetId: 'main',
    name: `Destination ${id}`,
    kind: 'webhook',
    address: 'https://hooks.example/',
    secrets: ['whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw'],
    leastSeverity: 'info',
    sites: [],
    machineIds: [],
    rules: [],
    quiet: null,
    digestMinutes: null,
    includesPast: false,
    isEnabled: true,
    ...other,
  };
}
