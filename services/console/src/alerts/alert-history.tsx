import { useSignal } from '@preact/signals';
import type { AlertDocument } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { nowMs } from '../api/server-clock.js';
import { useCall } from '../api/use-call.js';
import { formatInstantShort, zoneOf } from '../format/instant.js';
import { zoneChoice } from '../routing/choices.js';
import { noticeWords, stepSentence } from './alert-words.js';

interface AlertHistoryProps {
  readonly alert: AlertDocument;
  readonly isOpen: boolean;
}

/** Every step of an alert's life, read when it is opened and again with each new step. */
export function AlertHistory({ alert, isOpen }: AlertHistoryProps) {
  const isShown = useSignal(isOpen);
  return (
    <details
      class="alert-history"
      open={isShown.value}
      onToggle={(event) => {
        isShown.value = event.currentTarget.open;
      }}
    >
      <summary>
        History{' '}
        <span class="quiet">
          {alert.sequence + 1} {alert.sequence === 0 ? 'step' : 'steps'}
        </span>
      </summary>
      {isShown.value && <Steps alert={alert} />}
    </details>
  );
}

function Steps({ alert }: { readonly alert: AlertDocument }) {
  const path = { episodeId: alert.episodeId };
  const answer = useCall((signal) => api.getAlert({ path, signal }), `${alert.episodeId} ${alert.sequence}`).value;
  if (answer === null) return <p class="quiet">Loading the history</p>;
  if (!answer.ok) return <p class="problem">{answer.problem.detail ?? answer.problem.title}</p>;
  const timeZone = zoneOf(zoneChoice.value, alert.group.timeZone);
  return (
    <ol class="alert-steps">
      {answer.body.events.map((event) => {
        const who = event.actor === null ? '' : ` by ${event.actor}`;
        const notice = noticeWords(event);
        return (
          <li key={event.sequence}>
            <span class="alert-step-at">{formatInstantShort(Date.parse(event.learnedAt), timeZone, nowMs.value)}</span>
            <span>
              {stepSentence(event)}
              {who}
              {event.note !== null && <span class="alert-note">: {event.note}</span>}
              {notice !== '' && <span class="quiet"> · {notice}</span>}
            </span>
          </li>
        );
      })}
    </ol>
  );
}
