import { useSignal } from '@preact/signals';
import { builtInThresholds } from '@warmbrick/analysis';
import { useEffect, useMemo } from 'preact/hooks';
import { api } from '../api/client.js';
import { useCall } from '../api/use-call.js';
import { zoneLabel, zoneOf } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { PageTitle } from '../parts/page-title.js';
import { ProblemNote } from '../parts/problem-note.js';
import { zoneChoice } from '../routing/choices.js';
import { Link } from '../routing/link.js';
import { query } from '../routing/location.js';
import { BenchChoices, GroupChoice } from './bench-choices.js';
import { BenchResult } from './bench-result.js';
import { createBenchStore } from './bench-store.js';
import { PromotionNote } from './promotion-note.js';
import { thresholdGroups } from './threshold-groups.js';
import { ThresholdSliders } from './threshold-sliders.js';

const usualDays = 7;
const dayMs = 86_400_000;

/** The replay bench of one machine: move thresholds, see at once what appears, vanishes and moves. */
export function BenchPage({ machineId }: { readonly machineId: string }) {
  const store = useMemo(createBenchStore, [machineId]);
  const tries = useSignal(0);
  const machine = useCall((signal) => api.getMachine({ path: { machineId }, signal }), machineId).value;
  const sets = useCall((signal) => api.getThresholdSets({ signal }), machineId).value;
  const detail = machine?.ok === true ? machine.body : null;
  const items = sets?.ok === true ? sets.body.items : [];
  const days = Number(query.value.get('days') ?? usualDays);
  const setName = query.value.get('with') ?? detail?.thresholdSet ?? builtInThresholds.version;
  const group = thresholdGroups.find(({ id }) => id === query.value.get('group')) ?? thresholdGroups[0];

  useEffect(() => () => store.stop(), [store]);
  useEffect(() => {
    if (detail === null) return;
    const toMs = Date.parse(detail.observed.to) + 1;
    void store.load(detail, Math.max(Date.parse(detail.observed.from), toMs - days * dayMs), toMs);
  }, [store, detail?.machineId, days, tries.value]);
  useEffect(() => {
    const chosen = items.find(({ version }) => version === setName);
    store.before.value =
      chosen === undefined
        ? builtInThresholds
        : { version: chosen.version, values: { ...builtInThresholds.values, ...chosen.values } };
    store.ask();
  }, [store, items, setName]);

  const timeZone = zoneOf(zoneChoice.value, detail?.timeZone ?? 'UTC');
  const problem = machine?.ok === false ? machine.problem : store.problem.value;
  return (
    <article class="bench">
      <p class="crumb">
        <Link to={`/machines/${encodeURIComponent(machineId)}`}>Back to the machine</Link>
        <Link to="/">Back to the fleet</Link>
      </p>
      <PageTitle text={`Thresholds on trial: ${detail?.name ?? machineId}`} />
      <p class="lead">
        Move a threshold and see what this machine's own samples would have given. Nothing here changes what is in
        force; an engineer promotes a set with <code>warmbrick promote</code>.
      </p>
      {problem !== null && <ProblemNote problem={problem} retry={() => void tries.value++} />}
      <BenchChoices days={days} setName={setName} versions={items.map(({ version }) => version)}>
        {detail !== null && <span class="quiet">Times in {zoneLabel(timeZone, Date.parse(detail.observed.to))}</span>}
      </BenchChoices>
      {store.progress.value !== null && (
        <LoadingNote what={`samples: ${store.progress.value.done} of ${store.progress.value.days} days`} />
      )}
      <div class="bench-parts">
        <section aria-label="Thresholds">
          <GroupChoice store={store} groupId={group?.id ?? ''} />
          {group !== undefined && <ThresholdSliders group={group} store={store} />}
          {Object.keys(store.moved.value).length > 0 && (
            <p>
              <button type="button" onClick={() => store.reset()}>
                Put all back
              </button>
            </p>
          )}
        </section>
        <BenchResult store={store} timeZone={timeZone} />
      </div>
      {detail !== null && <PromotionNote detail={detail} timeZone={timeZone} />}
    </article>
  );
}
