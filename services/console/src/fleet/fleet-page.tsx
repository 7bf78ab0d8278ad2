import { useComputed, useSignal } from '@preact/signals';
import { useEffect, useMemo } from 'preact/hooks';
import { nowMs } from '../api/server-clock.js';
import { CourseKey } from '../course/course-key.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { ProblemNote } from '../parts/problem-note.js';
import { chosenFleet } from '../routing/fleet-choice.js';
import { query } from '../routing/location.js';
import { newestSampleMs } from '../shell/live-mark.js';
import { FleetControls } from './fleet-controls.js';
import { FleetLine } from './fleet-line.js';
import { createFleet, type FleetScope } from './fleet-store.js';
import { type Concern, concerns, hasConcern, matchesSearch } from './fleet-summary.js';
import { FleetTable } from './fleet-table.js';

/** All machines, those most likely to clog first. */
export function FleetPage() {
  const fleet = useMemo(createFleet, []);
  const sites = useSignal<readonly string[]>([]);
  const scope: FleetScope = {
    sort: query.value.get('sort') === 'name' ? 'name' : 'risk',
    site: query.value.get('site'),
    fleet: chosenFleet.value,
  };
  const search = query.value.get('q') ?? '';
  const only = concerns.find((concern) => concern === query.value.get('only')) ?? null;
  useEffect(() => () => fleet.stop(), [fleet]);
  useEffect(() => void fleet.open(scope), [fleet, scope.sort, scope.site, scope.fleet]);
  useEffect(
    () =>
      fleet.machines.subscribe((machines) => {
        const found = machines.flatMap((machine) => machine.value.site ?? []);
        sites.value = [...new Set([...sites.peek(), ...found])].sort();
      }),
    [fleet, sites],
  );
  const newest = useComputed(() => {
    const times = fleet.machines.value.map((machine) => Date.parse(machine.value.lastSampleAt));
    return times.length === 0 ? null : Math.max(...times);
  });
  useEffect(
    () =>
      newest.subscribe((timeMs) => {
        newestSampleMs.value = timeMs;
      }),
    [newest],
  );

  useEffect(
    () => () => {
      newestSampleMs.value = null;
    },
    [],
  );

  const all = fleet.machines.value;
  const shown = all.filter((machine) => isShown(machine.peek(), search, only));
  return (
    <section class="fleet">
      <PageTitle text="Fleet" hidden />
      <FleetLine machines={all} hasMore={fleet.nextCursor.value !== null} only={only} />
      <FleetControls scope={scope} search={search} sites={sites.value} />
      <CourseKey withParts />
      {fleet.problem.value !== null && <ProblemNote problem={fleet.problem.value} retry={() => fleet.open(scope)} />}
      {all.length === 0 && fleet.state.value === 'loading' && <LoadingNote what="the machines" />}
      {all.length > 0 && shown.length > 0 && <FleetTable machines={shown} sort={scope.sort} />}
      {all.length > 0 && shown.length === 0 && <p class="nothing">None of the {all.length} machines loaded match.</p>}
      {all.length === 0 && fleet.state.value === 'ready' && (
        <p class="nothing">No machine has sent anything yet. Machines appear here with their first sample.</p>
      )}
      {fleet.nextCursor.value !== null && (
        <button type="button" class="more" disabled={fleet.state.value === 'loading'} onClick={() => fleet.more()}>
          More machines
        </button>
      )}
    </section>
  );
}

function isShown(machine: Parameters<typeof hasConcern>[0], search: string, only: Concern | null): boolean {
  return matchesSearch(machine, search) && (only === null || hasConcern(machine, only, nowMs.peek()));
}
