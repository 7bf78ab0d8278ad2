import { streamState } from '../api/live-stream.js';
import { nowMs } from '../api/server-clock.js';
import { formatDuration } from '../format/duration.js';
import { zoneLabel, zoneOf } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { zoneChoice } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { query, setQuery } from '../routing/location.js';
import { AlertCard } from './alert-card.js';
import { countStandings, groupAlerts, type SiteAlerts, type Standing, standingOf, standings } from './alert-groups.js';
import { type AlertBoard, overDays } from './alert-store.js';
import { standingWords } from './alert-words.js';

/** Alerts by site and machine, those that wait for somebody first. */
export function AlertBoardView({ board }: { readonly board: AlertBoard }) {
  const all = [...board.alerts.value.values()];
  const asked = query.value.get('show');
  const only = standings.find((standing) => standing === asked) ?? null;
  const chosen = query.value.get('alert');
  const isShown = (standing: Standing) => (only === null ? standing !== 'over' : standing === only);
  const shown = all.filter((alert) => isShown(standingOf(alert)) || alert.episodeId === chosen);
  const isLoading = board.state.value === 'loading';
  return (
    <>
      <StandingLine counts={countStandings(all)} only={only} />
      <Staleness board={board} />
      {board.problem.value !== null && <ProblemNote problem={board.problem.value} retry={() => board.load()} />}
      {isLoading && all.length === 0 && <LoadingNote what="the alerts" />}
      {board.state.value === 'ready' && shown.length === 0 && <p class="nothing">{nothingWords(only)}</p>}
      {groupAlerts(shown).map((site) => (
        <Site key={site.site ?? ''} site={site} board={board} chosen={chosen} />
      ))}
      {board.hasMore.value && <p class="quiet">There are more than are shown here.</p>}
    </>
  );
}

function nothingWords(only: Standing | null): string {
  if (only === null) return 'Nothing is going on. What ended lately is under "over".';
  if (only === 'over') return `Nothing has ended in the last ${overDays} days.`;
  return `No alert is ${standingWords(only)}.`;
}

interface StandingLineProps {
  readonly counts: Readonly<Record<Standing, number>>;
  readonly only: Standing | null;
}

/** How many stand how; each is a way to see only those. */
function StandingLine({ counts, only }: StandingLineProps) {
  return (
    <ul class="standing-line" aria-label="How alerts stand">
      {standings.map((standing) => (
        <li key={standing}>
          <button
            type="button"
            class="clause"
            aria-pressed={only === standing}
            onClick={() => setQuery({ show: only === standing ? null : standing, alert: null })}
          >
            <strong>{counts[standing]}</strong> {standingWords(standing)}
            {standing === 'over' && ` in ${overDays} days`}
          </button>
        </li>
      ))}
    </ul>
  );
}

/** Without the stream nothing here is of now, and it says so. */
function Staleness({ board }: { readonly board: AlertBoard }) {
  const readMs = board.readMs.value;
  if (streamState.value !== 'lost' || readMs === null) return null;
  return (
    <p class="stale" role="status">
      Not connected. This is how it stood {formatDuration((nowMs.value - readMs) / 1000)} ago.
    </p>
  );
}

interface SiteProps {
  readonly site: SiteAlerts;
  readonly board: AlertBoard;
  readonly chosen: string | null;
}

function Site({ site, board, chosen }: SiteProps) {
  const zones = site.timeZones.map((zone) => zoneLabel(zoneOf(zoneChoice.value, zone), nowMs.value));
  return (
    <section class="alert-site" aria-label={site.site ?? 'Without a site'}>
      <h2>
        {site.site ?? 'Without a site'}{' '}
        <span class="head-note">
          {site.count} {site.count === 1 ? 'alert' : 'alerts'} · clock: {[...new Set(zones)].join(', ')}
        </span>
      </h2>
      {site.machines.map((machine) => (
        <div key={machine.machineId} class="alert-machine">
          <h3>
            <Link to={`/machines/${encodeURIComponent(machine.machineId)}`} class="machine-name">
              {machine.machineName}
            </Link>
          </h3>
          <ul>
            {machine.alerts.map((alert) => (
              <AlertCard key={alert.episodeId} alert={alert} board={board} isChosen={alert.episodeId === chosen} />
            ))}
          </ul>
        </div>
      ))}
    </section>
  );
}
