import type { AlertDocument } from '@warmbrick/contracts';
import { useEffect, useRef } from 'preact/hooks';
import { nowMs } from '../api/server-clock.js';
import { formatDuration } from '../format/duration.js';
import { severityRank } from '../format/finding-words.js';
import { formatInstantShort, zoneOf } from '../format/instant.js';
import { Pile } from '../parts/pile.js';
import { zoneChoice } from '../routing/choices.js';
import { AlertActions } from './alert-actions.js';
import { standingOf } from './alert-groups.js';
import { AlertHistory } from './alert-history.js';
import type { AlertBoard } from './alert-store.js';
import { conditionWords, severityWords } from './alert-words.js';
import { ConditionMark } from './condition-mark.js';

interface AlertCardProps {
  readonly alert: AlertDocument;
  readonly board: AlertBoard;
  readonly isChosen: boolean;
}

/** One alert: what, how bad, how long, who sees to it, and what can be done. */
export function AlertCard({ alert, board, isChosen }: AlertCardProps) {
  const card = useRef<HTMLLIElement>(null);
  useEffect(() => {
    if (isChosen) card.current?.scrollIntoView({ block: 'center' });
  }, [isChosen]);
  const timeZone = zoneOf(zoneChoice.value, alert.group.timeZone);
  const at = (instant: string) => formatInstantShort(Date.parse(instant), timeZone, nowMs.value);
  return (
    <li ref={card} class={`alert-card alert-${standingOf(alert)}${isChosen ? ' alert-chosen' : ''}`}>
      <div class="alert-what">
        <Pile filled={severityRank(alert.severity)} tone="severity" />
        <strong class="alert-title">{alert.title}</strong>
        <span class="alert-severity">{severityWords(alert.severity)}</span>
        <Marks alert={alert} />
      </div>
      <p class="alert-condition">
        <ConditionMark condition={alert.condition} />
        <span>
          {conditionWords(alert)} <span class="quiet">{lengthWords(alert, at)}</span>
        </span>
      </p>
      <p class="alert-text">{alert.text}</p>
      <Operator alert={alert} at={at} />
      {alert.condition !== 'clear' && alert.advice !== null && <p class="alert-advice">{alert.advice}</p>}
      {alert.condition !== 'clear' && alert.caution !== null && <p class="caution">{alert.caution}</p>}
      <AlertActions alert={alert} board={board} />
      <AlertHistory alert={alert} isOpen={isChosen} />
    </li>
  );
}

/** Since when and how long; no length where nobody knows whether it still goes on. */
function lengthWords(alert: AlertDocument, at: (instant: string) => string): string {
  const { startedAt, endedAt, condition, isPast } = alert;
  const isOpenEnded = endedAt === null && (isPast || condition === 'unknown');
  if (isOpenEnded) return `began ${at(startedAt)}`;
  const endMs = endedAt === null ? nowMs.value : Date.parse(endedAt);
  const lengthS = Math.max(0, (endMs - Date.parse(startedAt)) / 1000);
  if (endedAt === startedAt) return `at ${at(startedAt)}`;
  const until = endedAt === null ? '' : ` to ${at(endedAt)}`;
  return `since ${at(startedAt)}${until}, ${formatDuration(lengthS)}`;
}

/** What has to be known before anybody acts on it. */
function Marks({ alert }: { readonly alert: AlertDocument }) {
  return (
    <>
      {alert.isPast && <span class="alert-mark">about the past</span>}
      {alert.isWithdrawn && <span class="alert-mark">withdrawn</span>}
      {alert.escalationLevel > 0 && alert.condition !== 'clear' && (
        <span class="alert-mark">escalated{alert.escalationLevel > 1 ? ` ${alert.escalationLevel} times` : ''}</span>
      )}
    </>
  );
}

interface OperatorProps {
  readonly alert: AlertDocument;
  readonly at: (instant: string) => string;
}

/** Who has seen it, who sees to it, and why it is quiet. */
function Operator({ alert, at }: OperatorProps) {
  const lines: string[] = [];
  if (alert.isAcknowledged) {
    const when = alert.acknowledgedAt === null ? '' : `, ${at(alert.acknowledgedAt)}`;
    lines.push(`Seen by ${alert.acknowledgedBy ?? 'somebody'}${when}`);
  } else if (alert.condition !== 'clear' && !alert.isPast) lines.push('Nobody has seen it yet');
  if (alert.assignee !== null) lines.push(`${alert.assignee} sees to it`);
  if (alert.shelvedUntil !== null) {
    lines.push(`On the shelf until ${at(alert.shelvedUntil)}: ${alert.shelveReason ?? 'no reason given'}`);
  }
  if (alert.suppression === 'out-of-service') lines.push(`Out of service: ${alert.suppressionReason ?? ''}`);
  if (alert.suppression === 'suppressed-by-design') lines.push(`Does not count now: ${alert.suppressionReason ?? ''}`);
  if (lines.length === 0) return null;
  return (
    <ul class="alert-operator">
      {lines.map((line) => (
        <li key={line}>{line}</li>
      ))}
    </ul>
  );
}
