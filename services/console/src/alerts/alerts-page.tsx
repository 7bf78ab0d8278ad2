import { useEffect, useMemo } from 'preact/hooks';
import { FleetPicker } from '../parts/fleet-picker.js';
import { PageTitle } from '../parts/page-title.js';
import { chosenFleet } from '../routing/fleet-choice.js';
import { Link } from '../routing/link.js';
import { query, setQuery } from '../routing/location.js';
import { AlertBoardView } from './alert-board-view.js';
import { createAlertBoard } from './alert-store.js';
import { MaintenanceView } from './maintenance-view.js';
import { RulesView } from './rules-view.js';

const views = { alerts: 'What is going on', rules: 'Rules', maintenance: 'Out of service' } as const;
type View = keyof typeof views;

/** Alerts by site and machine; the rules that make them; what is out of service. */
export function AlertsPage() {
  const fleet = chosenFleet.value;
  const board = useMemo(() => createAlertBoard({ hasOver: true, ...(fleet === null ? {} : { fleet }) }), [fleet]);
  useEffect(() => {
    void board.load();
    return () => board.stop();
  }, [board]);
  const asked = query.value.get('view');
  const view: View = asked === 'rules' || asked === 'maintenance' ? asked : 'alerts';
  return (
    <article class="alerts">
      <div class="alerts-head">
        <PageTitle text="Alerts" />
        <fieldset class="alerts-views">
          <legend class="unseen">What to show</legend>
          {(Object.keys(views) as View[]).map((name) => (
            <button
              key={name}
              type="button"
              class="clause"
              aria-pressed={view === name}
              onClick={() => setQuery({ view: name === 'alerts' ? null : name, alert: null }, 'push')}
            >
              {views[name]}
            </button>
          ))}
        </fieldset>
        <Link to="/destinations">Who is told</Link>
        {view === 'alerts' && <FleetPicker hasAll />}
      </div>
      {view === 'alerts' && <AlertBoardView board={board} />}
      {view === 'rules' && <RulesView />}
      {view === 'maintenance' && <MaintenanceView />}
    </article>
  );
}
