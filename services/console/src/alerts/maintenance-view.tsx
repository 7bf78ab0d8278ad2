import { useSignal } from '@preact/signals';
import type { MaintenanceDocument, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { nowMs } from '../api/server-clock.js';
import { useCall } from '../api/use-call.js';
import { formatInstantShort } from '../format/instant.js';
import { FleetPicker } from '../parts/fleet-picker.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { inFleet } from '../routing/fleet-choice.js';

const hourMs = 3_600_000;

/** Machines and sites that are out of service: their alerts go on and tell nobody. */
export function MaintenanceView() {
  const tries = useSignal(0);
  const answer = useCall((signal) => api.getMaintenanceWindows({ signal }), String(tries.value)).value;
  const reload = () => {
    tries.value++;
  };
  return (
    <>
      <p class="quiet">
        While a machine is out of service its alerts go on and tell nobody. What still holds when it is over is told
        then.
      </p>
      {answer === null && <LoadingNote what="what is out of service" />}
      {answer?.ok === false && <ProblemNote problem={answer.problem} retry={reload} />}
      {answer?.ok === true && answer.body.items.length === 0 && <p class="nothing">Nothing is out of service.</p>}
      {answer?.ok === true && (
        <ul class="rule-list">
          {answer.body.items.map((window) => (
            <WindowCard key={window.id} window={window} reload={reload} />
          ))}
        </ul>
      )}
      <WindowForm reload={reload} />
    </>
  );
}

function WindowCard({ window, reload }: { readonly window: MaintenanceDocument; readonly reload: () => void }) {
  const at = (instant: string) => `${formatInstantShort(Date.parse(instant), 'UTC', nowMs.value)} UTC`;
  const end = async () => {
    await api.deleteMaintenanceWindow({ path: { windowId: window.id } });
    reload();
  };
  return (
    <li class="rule-card">
      <div class="alert-what">
        <strong class="alert-title">{window.machineId ?? window.site ?? `the whole fleet "${window.fleetId}"`}</strong>
      </div>
      <p>
        {window.reason} <span class="quiet">by {window.by}</span>
      </p>
      <p class="quiet">
        from {at(window.from)} {window.to === null ? 'until somebody ends it' : `to ${at(window.to)}`}
      </p>
      <div class="alert-buttons">
        <button type="button" onClick={end}>
          End it now
        </button>
      </div>
    </li>
  );
}

function WindowForm({ reload }: { readonly reload: () => void }) {
  const problem = useSignal<Problem | null>(null);
  const save = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const fields = new FormData(form);
    const text = (name: string) => String(fields.get(name) ?? '').trim();
    const hours = Number(text('hours'));
    const body = {
      ...inFleet.value,
      ...(text('machineId') === '' ? {} : { machineId: text('machineId') }),
      ...(text('site') === '' ? {} : { site: text('site') }),
      ...(hours > 0 ? { to: new Date(nowMs.peek() + hours * hourMs).toISOString() } : {}),
      reason: text('reason'),
    };
    const answer = await api.postMaintenanceWindows({ body });
    problem.value = answer.ok ? null : answer.problem;
    if (answer.ok) {
      form.reset();
      reload();
    }
  };
  return (
    <section class="rule-form" aria-labelledby="window-form-title">
      <h2 id="window-form-title">Take out of service</h2>
      <FleetPicker />
      <form class="record-form" onSubmit={save}>
        <label class="field">
          <span>Machine, by its id</span>
          <input type="text" name="machineId" maxLength={100} />
        </label>
        <label class="field">
          <span>or a site, by its name</span>
          <input type="text" name="site" maxLength={80} />
        </label>
        <label class="field">
          <span>For so many hours; empty: until ended</span>
          <input type="number" name="hours" min="1" max="8760" step="1" inputMode="numeric" />
        </label>
        <label class="field">
          <span>Why</span>
          <input type="text" name="reason" required maxLength={300} />
        </label>
        {problem.value !== null && (
          <p class="problem field-wide" role="alert">
            {problem.value.detail ?? problem.value.title}
          </p>
        )}
        <p class="field-wide">
          <button type="submit" class="strong">
            Take out of service
          </button>
        </p>
      </form>
    </section>
  );
}
