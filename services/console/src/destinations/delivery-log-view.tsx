import { useSignal } from '@preact/signals';
import type { DeliveryDocument, DeliveryLog } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { nowMs } from '../api/server-clock.js';
import { useCall } from '../api/use-call.js';
import { formatInstantShort, zoneOf } from '../format/instant.js';
import { ProblemNote } from '../parts/problem-note.js';
import { zoneChoice } from '../routing/choices.js';
import { query, setQuery } from '../routing/location.js';
import { deliveryWords } from './destination-words.js';

interface DeliveryLogProps {
  /** Names of destinations by id. */
  readonly names: ReadonlyMap<string, string>;
}

/** What was sent lately, or what was given up, with every try. */
export function DeliveryLogView({ names }: DeliveryLogProps) {
  const tries = useSignal(0);
  const onlyDead = query.value.get('sent') === 'dead';
  const answer = useCall(
    (signal) => api.getDeliveries({ query: { limit: 50, ...(onlyDead ? { state: 'dead' as const } : {}) }, signal }),
    `${onlyDead} ${tries.value}`,
  ).value;
  const reload = () => {
    tries.value++;
  };
  return (
    <section aria-labelledby="deliveries-title">
      <div class="section-head">
        <h2 id="deliveries-title">What was sent</h2>
        <label class="tick">
          <input
            type="checkbox"
            checked={onlyDead}
            onChange={(event) => setQuery({ sent: event.currentTarget.checked ? 'dead' : null })}
          />
          only what was given up
        </label>
      </div>
      {answer?.ok === false && <ProblemNote problem={answer.problem} retry={reload} />}
      {answer?.ok === true && answer.body.items.length === 0 && <p class="quiet">Nothing yet.</p>}
      <ol class="done-list">
        {answer?.ok === true &&
          answer.body.items.map((delivery) => (
            <DeliveryEntry
              key={delivery.id}
              delivery={delivery}
              name={names.get(delivery.destinationId)}
              reload={reload}
            />
          ))}
      </ol>
    </section>
  );
}

interface DeliveryEntryProps {
  readonly delivery: DeliveryDocument;
  readonly name: string | undefined;
  readonly reload: () => void;
}

function DeliveryEntry({ delivery, name, reload }: DeliveryEntryProps) {
  const log = useSignal<DeliveryLog | null>(null);
  const zone = zoneOf(zoneChoice.value, Intl.DateTimeFormat().resolvedOptions().timeZone);
  const at = (instant: string) => formatInstantShort(Date.parse(instant), zone, nowMs.value);
  const path = { deliveryId: delivery.id };
  const show = async (event: Event) => {
    if (!(event.currentTarget as HTMLDetailsElement).open) return;
    const answer = await api.getDeliveryAttempts({ path });
    if (answer?.ok === true) log.value = answer.body;
  };
  const resend = async () => {
    const answer = await api.postDeliveryResend({ path });
    if (answer.ok) reload();
  };
  return (
    <li>
      <strong>{delivery.subject}</strong>
      <span class="quiet">
        {name ?? 'a destination that is gone'}, {at(delivery.createdAt)}. {deliveryWords(delivery)}
        {delivery.dueAt !== null && `, next at ${at(delivery.dueAt)}`}.
      </span>
      <details onToggle={show}>
        <summary>Every try</summary>
        {log.value !== null && log.value.items.length === 0 && <p class="quiet">Not tried yet.</p>}
        <ul>
          {log.value?.items.map((attempt) => (
            <li key={attempt.at}>
              {at(attempt.at)}: {attempt.result}, {attempt.status} {attempt.detail} ({attempt.tookMs} ms)
            </li>
          ))}
        </ul>
      </details>
      {delivery.state !== 'waiting' && (
        <button type="button" class="plain" onClick={resend}>
          Send once more
        </button>
      )}
    </li>
  );
}
