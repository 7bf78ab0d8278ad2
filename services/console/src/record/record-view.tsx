import type { MachineDetail } from '@warmbrick/contracts';
import { useEffect, useMemo } from 'preact/hooks';
import { zoneOf } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { zoneChoice } from '../routing/choices.js';
import { query, setQuery } from '../routing/location.js';
import { PanelToggles } from './panel-toggles.js';
import { RangeControls } from './range-controls.js';
import { exhaustPanel, mainExhaustChannel, panelChoices, panelKeys } from './record-channels.js';
import { RecordPanels } from './record-panels.js';
import { createRecordStore } from './record-store.js';
import { rangeFromQuery, rangeToQuery, type TimeRange, usualMs } from './time-range.js';
import { useLatestMs } from './use-latest-ms.js';

/** The charts of a machine on one time axis. */
export function RecordView({ detail }: { readonly detail: MachineDetail }) {
  const store = useMemo(createRecordStore, []);
  const chosen = rangeFromQuery(query.value.get('from'), query.value.get('to'));
  const latestMs = useLatestMs(detail.machineId, detail.lastSampleAt, chosen === null);
  const range = chosen ?? { fromMs: latestMs - usualMs, toMs: latestMs };
  const keys = panelKeys(query.value.get('ch'));
  const panels = [
    exhaustPanel(mainExhaustChannel(detail.exhaustSourceS)),
    ...panelChoices.filter((choice) => keys.includes(choice.key)),
  ];
  const timeZone = zoneOf(zoneChoice.value, detail.timeZone);
  const channels = panels.map((panel) => panel.channel);
  const scope = { machineId: detail.machineId, range, channels };
  useEffect(() => void store.load(scope), [store, detail.machineId, range.fromMs, range.toMs, channels.join()]);
  useEffect(() => () => store.stop(), [store]);
  const select = (next: TimeRange) => setQuery(rangeToQuery(next), 'push');
  const reset = () => setQuery({ from: null, to: null }, 'push');
  const move = { range, select, reset };
  return (
    <section class="record" aria-labelledby="record-title">
      <div class="record-head">
        <h2 id="record-title">Record</h2>
        <RangeControls move={move} isUsual={chosen === null} timeZone={timeZone} />
      </div>
      <PanelToggles keys={keys} />
      {store.problem.value !== null && <ProblemNote problem={store.problem.value} retry={() => store.load(scope)} />}
      {store.series.value === null && store.isLoading.value && <LoadingNote what="the samples" />}
      {store.series.value !== null && (
        <RecordPanels
          detail={detail}
          store={store}
          series={store.series.value}
          panels={panels}
          move={move}
          timeZone={timeZone}
        />
      )}
    </section>
  );
}
