import { useSignal } from '@preact/signals';
import type { Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { FleetPicker } from '../parts/fleet-picker.js';
import { inFleet } from '../routing/fleet-choice.js';

/** Writing down a batch of DEF that was bought. */
export function StockForm({ reload }: { readonly reload: () => void }) {
  const problem = useSignal<Problem | null>(null);
  const save = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const fields = new FormData(form);
    const text = (name: string) => String(fields.get(name) ?? '').trim();
    const body = {
      ...inFleet.value,
      name: text('name'),
      site: text('site') === '' ? null : text('site'),
      purchasedOn: text('purchasedOn'),
      storageTempC: Number(text('storageTempC')),
      quantityL: Number(text('quantityL')),
      note: text('note'),
    };
    const answer = await api.postDefStock({ body });
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) {
      form.reset();
      reload();
    }
  };
  return (
    <section aria-labelledby="stock-form-title">
      <h2 id="stock-form-title">Write down a batch</h2>
      <FleetPicker />
      <form class="record-form" onSubmit={save}>
        <label class="field">
          <span>Name, such as the tank or the delivery</span>
          <input type="text" name="name" required maxLength={80} />
        </label>
        <label class="field">
          <span>Site</span>
          <input type="text" name="site" maxLength={80} />
        </label>
        <label class="field">
          <span>Bought on</span>
          <input type="date" name="purchasedOn" required />
        </label>
        <label class="field">
          <span>Quantity, litres</span>
          <input type="number" name="quantityL" required min="0" max="1000000" step="any" inputMode="decimal" />
        </label>
        <label class="field">
          <span>Mean temperature of the store, °C</span>
          <input type="number" name="storageTempC" required min="-40" max="60" step="any" defaultValue="15" />
        </label>
        <label class="field">
          <span>Remark</span>
          <input type="text" name="note" maxLength={1000} />
        </label>
        {problem.value !== null && (
          <p class="problem field-wide" role="alert">
            {problem.value.errors?.map(({ message }) => message).join(' ') ??
              problem.value.detail ??
              problem.value.title}
          </p>
        )}
        <p class="field-wide">
          <button type="submit">Write down</button>
        </p>
      </form>
    </section>
  );
}
