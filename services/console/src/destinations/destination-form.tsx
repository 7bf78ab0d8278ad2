import { useSignal } from '@preact/signals';
import type { DestinationDocument, Problem } from '@warmbrick/contracts';
import { api, type PostDestinationsBody } from '../api/client.js';
import { FleetPicker } from '../parts/fleet-picker.js';
import { inFleet } from '../routing/fleet-choice.js';
import { kindWords, severityWords } from './destination-words.js';
import { SecretNote } from './secret-note.js';

type Kind = DestinationDocument['kind'];

const addressWords: Readonly<Record<Kind, string>> = {
  webhook: 'Address, https://…',
  mail: 'Mail addresses, with commas between',
  mqtt: 'Topic, without wildcards',
};

/** A new destination. */
export function DestinationForm({ reload }: { readonly reload: () => void }) {
  const kind = useSignal<Kind>('webhook');
  const problem = useSignal<Problem | null>(null);
  const secret = useSignal<string | null>(null);
  const save = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const body = bodyOf(kind.value, new FormData(form));
    const answer = await api.postDestinations({ body });
    problem.value = answer.ok ? null : answer.problem;
    if (!answer.ok) return;
    secret.value = answer.body.secret;
    form.reset();
    kind.value = 'webhook';
    reload();
  };
  return (
    <section aria-labelledby="destination-title">
      <h2 id="destination-title">Tell somebody more</h2>
      {secret.value !== null && <SecretNote secret={secret.value} />}
      <FleetPicker />
      <form class="record-form" onSubmit={save}>
        <label class="field">
          <span>How</span>
          <select
            value={kind.value}
            onChange={(event) => {
              kind.value = event.currentTarget.value as Kind;
            }}
          >
            {Object.entries(kindWords).map(([value, words]) => (
              <option key={value} value={value}>
                {words}
              </option>
            ))}
          </select>
        </label>
        <label class="field">
          <span>Name</span>
          <input type="text" name="name" required maxLength={80} />
        </label>
        <label class="field">
          <span>{addressWords[kind.value]}</span>
          <input type="text" name="address" required maxLength={2000} />
        </label>
        <label class="field">
          <span>Hears of</span>
          <select name="leastSeverity" defaultValue="warning">
            {Object.entries(severityWords).map(([value, words]) => (
              <option key={value} value={value} selected={value === 'warning'}>
                {words}
              </option>
            ))}
          </select>
        </label>
        <label class="field">
          <span>Only these sites, with commas between</span>
          <input type="text" name="sites" />
        </label>
        {kind.value === 'mail' && (
          <label class="field">
            <span>One mail for so many minutes; empty for each by itself</span>
            <input type="number" name="digestMinutes" min="5" max="1440" />
          </label>
        )}
        <QuietFields />
        {problem.value !== null && (
          <p class="problem field-wide" role="alert">
            {problem.value.errors?.map(({ message }) => message).join(' ') ??
              problem.value.detail ??
              problem.value.title}
          </p>
        )}
        <p class="field-wide">
          <button type="submit">Tell them</button>
        </p>
      </form>
    </section>
  );
}

/** When only what is severe goes out. */
function QuietFields() {
  return (
    <>
      <label class="field">
        <span>Quiet from</span>
        <input type="time" name="quietFrom" />
      </label>
      <label class="field">
        <span>Quiet until</span>
        <input type="time" name="quietTo" />
      </label>
      <p class="field-wide quiet">
        Quiet hours go by the clock of this device’s zone, {deviceZone()}. Severe alerts that call for somebody now go
        out all the same.
      </p>
    </>
  );
}

function bodyOf(kind: Kind, fields: FormData): PostDestinationsBody {
  const text = (name: string) => String(fields.get(name) ?? '').trim();
  const [from, to] = [text('quietFrom'), text('quietTo')];
  const sites = text('sites')
    .split(',')
    .map((site) => site.trim())
    .filter((site) => site !== '');
  return {
    kind,
    ...inFleet.value,
    name: text('name'),
    address: text('address'),
    leastSeverity: text('leastSeverity'),
    sites,
    quiet: from === '' || to === '' ? null : { timeZone: deviceZone(), from, to },
    ...(kind === 'mail' && text('digestMinutes') !== '' ? { digestMinutes: Number(text('digestMinutes')) } : {}),
    // The choices are those of the form's lists.
  } as PostDestinationsBody;
}

function deviceZone(): string {
  return Intl.DateTimeFormat().resolvedOptions().timeZone;
}
