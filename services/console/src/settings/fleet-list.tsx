import type { FleetDocument } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { loadFleets } from '../routing/fleet-choice.js';
import { useList } from './use-list.js';

/** The fleets there are, and making one. */
export function FleetList() {
  const list = useList<FleetDocument>(() => api.getFleets());
  const make = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const values = new FormData(form);
    const body = { fleetId: String(values.get('fleetId')), name: String(values.get('name')) };
    if ((await list.change(api.postFleets({ body }))) === null) return;
    form.reset();
    await loadFleets();
  };
  return (
    <section aria-labelledby="fleets-title">
      <h2 id="fleets-title">Fleets</h2>
      <p class="quiet">A machine belongs to one fleet, named in its profile; a key sees the machines of its fleets.</p>
      {list.problem.value !== null && <ProblemNote problem={list.problem.value} retry={list.load} />}
      {list.items.value === null && list.problem.value === null && <LoadingNote what="the fleets" />}
      <ul class="settings-list">
        {list.items.value?.map((fleet) => (
          <li key={fleet.fleetId}>
            <strong>{fleet.name}</strong> <span class="quiet">{fleet.fleetId}</span>{' '}
            {fleet.machines === 1 ? 'one machine' : `${fleet.machines} machines`}
          </li>
        ))}
      </ul>
      <form class="record-form" onSubmit={make} aria-label="New fleet">
        <label class="field">
          <span>Short name: small letters, digits, hyphens</span>
          <input name="fleetId" required pattern="[a-z0-9][a-z0-9\-]*" maxLength={40} autocomplete="off" />
        </label>
        <label class="field">
          <span>Name</span>
          <input name="name" required maxLength={80} autocomplete="off" />
        </label>
        <div class="field-wide">
          <button type="submit">Make a fleet</button>
        </div>
      </form>
    </section>
  );
}
