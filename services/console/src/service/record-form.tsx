import { useSignal } from '@preact/signals';
import type { MachineService, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';

interface RecordFormProps {
  readonly service: MachineService;
  readonly reload: () => void;
}

/** Writing down work that was done. */
export function RecordForm({ service, reload }: RecordFormProps) {
  const problem = useSignal<Problem | null>(null);
  const said = useSignal('');
  const save = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const fields = new FormData(form);
    const text = (name: string) => String(fields.get(name) ?? '').trim();
    const body = {
      item: text('item'),
      at: new Date(text('at')).toISOString(),
      engineHours: text('engineHours') === '' ? null : Number(text('engineHours')),
      note: text('note'),
      ...(text('by') === '' ? {} : { by: text('by') }),
    };
    const answer = await api.postMachineService({ path: { machineId: service.machineId }, body });
    problem.value = answer.ok ? null : answer.problem;
    said.value = answer.ok ? 'Written down.' : '';
    if (answer.ok) {
      form.reset();
      reload();
    }
  };
  return (
    <section aria-labelledby="record-title">
      <h2 id="record-title">Write down work</h2>
      <form class="record-form" onSubmit={save}>
        <label class="field">
          <span>Work</span>
          <select name="item" required>
            {service.due.map(({ item, name }) => (
              <option key={item} value={item}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <label class="field">
          <span>When, by the clock of this device</span>
          <input type="datetime-local" name="at" required defaultValue={localNow(Date.parse(service.at))} />
        </label>
        <label class="field">
          <span>Hour meter, if read</span>
          <input type="number" name="engineHours" min="0" max="500000" step="any" inputMode="decimal" />
        </label>
        <label class="field">
          <span>Who did it</span>
          <input type="text" name="by" maxLength={80} autocomplete="name" />
        </label>
        <label class="field field-wide">
          <span>Remark</span>
          <textarea name="note" rows={2} maxLength={1000} />
        </label>
        {problem.value !== null && (
          <p class="problem field-wide" role="alert">
            {problem.value.errors?.map(({ message }) => message).join(' ') ??
              problem.value.detail ??
              problem.value.title}
          </p>
        )}
        <p class="field-wide">
          <button type="submit">Write down</button> <span role="status">{said.value}</span>
        </p>
      </form>
    </section>
  );
}

/** As a field of local date and time wants it. */
function localNow(timeMs: number): string {
  const at = new Date(timeMs);
  const two = (part: number) => String(part).padStart(2, '0');
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}T${two(at.getHours())}:${two(at.getMinutes())}`;
}
