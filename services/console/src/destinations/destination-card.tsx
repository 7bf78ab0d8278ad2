import { useSignal } from '@preact/signals';
import type { DestinationDocument, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { filterWords, kindWords } from './destination-words.js';
import { SecretNote } from './secret-note.js';

interface DestinationCardProps {
  readonly destination: DestinationDocument;
  readonly reload: () => void;
}

/** One destination with what can be done to it. */
export function DestinationCard({ destination, reload }: DestinationCardProps) {
  const problem = useSignal<Problem | null>(null);
  const secret = useSignal<string | null>(null);
  const { id, name, kind, address, isEnabled, liveSecrets } = destination;
  const path = { destinationId: id };
  const turn = async () => {
    const { id: _, liveSecrets: __, digestMinutes, ...rest } = destination;
    const body = { ...rest, ...(kind === 'mail' ? { digestMinutes } : {}), isEnabled: !isEnabled };
    const answer = await api.putDestination({ path, body });
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) reload();
  };
  const rotate = async () => {
    const answer = await api.postDestinationRotateSecret({ path });
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) secret.value = answer.body.secret;
  };
  const remove = async () => {
    if (!confirm(`Delete "${name}" with everything that waits for it?`)) return;
    const answer = await api.deleteDestination({ path });
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) reload();
  };
  return (
    <section aria-label={name}>
      <div class="section-head">
        <h2>
          {name} <span class="head-note">{kindWords[kind]}</span>
        </h2>
        <p>{isEnabled ? 'on' : <strong>off</strong>}</p>
      </div>
      <p class="address-text">{address}</p>
      <p class="quiet">Hears of {filterWords(destination)}.</p>
      {kind === 'webhook' && liveSecrets > 1 && <p class="quiet">Two secrets sign until the next change.</p>}
      {secret.value !== null && <SecretNote secret={secret.value} />}
      {problem.value !== null && (
        <p class="problem" role="alert">
          {problem.value.detail ?? problem.value.title}
        </p>
      )}
      <p class="button-row">
        <button type="button" onClick={turn}>
          {isEnabled ? 'Turn off' : 'Turn on'}
        </button>
        {kind === 'webhook' && (
          <button type="button" onClick={rotate}>
            New secret
          </button>
        )}
        <button type="button" onClick={remove}>
          Delete
        </button>
      </p>
    </section>
  );
}
