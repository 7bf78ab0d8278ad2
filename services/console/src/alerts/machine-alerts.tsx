import type { AlertDocument, MachineDetail } from '@warmbrick/contracts';
import { useEffect, useMemo } from 'preact/hooks';
import { streamState } from '../api/live-stream.js';
import { nowMs } from '../api/server-clock.js';
import { formatDuration } from '../format/duration.js';
import { severityRank } from '../format/finding-words.js';
import { Pile } from '../parts/pile.js';
import { Link } from '../routing/link.js';
import { groupAlerts, standingOf } from './alert-groups.js';
import { createAlertBoard } from './alert-store.js';
import { conditionWords, severityWords, standingWords } from './alert-words.js';

/** The alerts of one machine that are not over, each a way to its card; nothing where there are none. */
export function MachineAlerts({ detail: { machineId } }: { readonly detail: MachineDetail }) {
  const board = useMemo(() => createAlertBoard({ machineId, hasOver: false }), [machineId]);
  useEffect(() => {
    void board.load();
    return () => board.stop();
  }, [board]);
  const open = [...board.alerts.value.values()].filter((alert) => standingOf(alert) !== 'over');
  const ordered = groupAlerts(open).flatMap(({ machines }) => machines.flatMap(({ alerts }) => alerts));
  const problem = board.problem.value;
  if (ordered.length === 0 && problem === null) return null;
  const readMs = board.readMs.value;
  return (
    <section class="machine-alerts" aria-labelledby="machine-alerts-title">
      <h2 id="machine-alerts-title">
        {ordered.length === 1 ? '1 open alert' : `${ordered.length} open alerts`}
        {streamState.value === 'lost' && readMs !== null && (
          <span class="head-note"> as it stood {formatDuration((nowMs.value - readMs) / 1000)} ago</span>
        )}
      </h2>
      {problem !== null && <p>The alerts of this machine could not be read: {problem.title}.</p>}
      <ul>
        {ordered.map((alert) => (
          <AlertLine key={alert.episodeId} alert={alert} />
        ))}
      </ul>
    </section>
  );
}

function AlertLine({ alert }: { readonly alert: AlertDocument }) {
  const standing = standingOf(alert);
  return (
    <li class={`machine-alert alert-${standing}`}>
      <Pile filled={severityRank(alert.severity)} tone="severity" />
      <Link to={`/alerts?alert=${encodeURIComponent(alert.episodeId)}`}>{alert.title}</Link>
      <span class="quiet">
        {severityWords(alert.severity)}, {sinceWords(alert)},{' '}
        {alert.isPast ? 'about the past' : standingWords(standing)}
      </span>
    </li>
  );
}

/** "for 2 h", where it goes on; otherwise how it stands, and when it began. */
function sinceWords(alert: AlertDocument): string {
  const length = formatDuration(Math.max(0, (nowMs.value - Date.parse(alert.startedAt)) / 1000));
  const condition = conditionWords(alert);
  return condition === 'going on' ? `for ${length}` : `${condition}, began ${length} ago`;
}
