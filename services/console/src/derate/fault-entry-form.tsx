import { useSignal } from '@preact/signals';
import type { Problem } from '@warmbrick/contracts';
import { api, type FaultEntryBodyInput } from '../api/client.js';

interface FaultEntryFormProps {
  readonly machineId: string;
  readonly reload: () => void;
}

/** Typing in a code that somebody read off a display. */
export function FaultEntryForm({ machineId, reload }: FaultEntryFormProps) {
  const problem = useSignal<Problem | null>(null);
  const said = useSignal('');
  const save = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const fields = new FormData(form);
    const text = (name: string) => String(fields.get(name) ?? '').trim();
    const body = {
      at: new Date(text('at')).toISOString(),
      spn: Number(text('spn')),
      fmi: Number(text('fmi')),
      what: text('what') as NonNullable<FaultEntryBodyInput['what']>,
      note: text('note') === '' ? null : text('note'),
    };
    const answer = await api.postMachineFaults({ path: { machineId }, body });
    problem.value = answer.ok ? null : answer.problem;
    said.value = answer.ok ? 'It is in the log.' : '';
    if (!answer.ok) return;
    form.reset();
    reload();
  };
  return (
    <section aria-labelledby="entry-title">
      <h2 id="entry-title">Type in a code</h2>
      <p class="quiet">Read off a display or told by somebody. The log says that it was typed, and by whom.</p>
      <form class="record-form" onSubmit={save}>
        <label class="field">
          <span>SPN</span>
          <input name="spn" type="number" min="0" max="524287" required inputMode="numeric" />
        </label>
        <label class="field">
          <span>FMI</span>
          <input name="fmi" type="number" min="0" max="31" required inputMode="numeric" />
        </label>
        <label class="field">
          <span>When, by this device’s clock</span>
          <input name="at" type="datetime-local" required />
        </label>
        <label class="field">
          <span>What</span>
          <select name="what">
            <option value="occurred">it was shown</option>
            <option value="became-active">it became active</option>
            <option value="became-inactive">it went out</option>
          </select>
        </label>
        <label class="field field-wide">
          <span>Note</span>
          <input name="note" type="text" maxLength={300} />
        </label>
        <button type="submit">Put it in the log</button>
        <p role="status">{said.value}</p>
      </form>
      {problem.value !== null && (
        <p role="alert">
          {problem.value.title}. {problem.value.detail}
        </p>
      )}
    </section>
  );
}
