import { useComputed, useSignal } from '@preact/signals';
import type { MachineDetail } from '@warmbrick/contracts';
import { useEffect, useMemo } from 'preact/hooks';
import { onMachine } from '../api/live-stream.js';
import { nowMs } from '../api/server-clock.js';
import { throttle } from '../api/throttle.js';
import { zoneOf } from '../format/instant.js';
import { LoadingNote } from '../parts/loading-note.js';
import { ProblemNote } from '../parts/problem-note.js';
import { units, zoneChoice } from '../routing/choices.js';
import { query, setQuery } from '../routing/location.js';
import { FindingLane } from './finding-lane.js';
import { findingMarks } from './finding-marks.js';
import { PanelToggles } from './panel-toggles.js';
import { PanelView } from './panel-view.js';
import { RangeControls, rangeOfKey } from './range-controls.js';
import { exhaustPanel, mainExhaustChannel, panelChoices, panelKeys } from './record-channels.js';
import { createRecordStore } from './record-store.js';
import { rangeAround, rangeFromQuery, rangeToQuery, type TimeRange, usualMs } from './time-range.js';

/** New samples are fetched this often at most while the latest day is shown. */
const appendIntervalMs = 10_000;

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
  const channels = panels.flatMap((panel) => panel.channels.map((channel) => channel.name));
  const scope = { machineId: detail.machineId, range, channels };
  useEffect(() => void store.load(scope), [store, detail.machineId, range.fromMs, range.toMs, channels.join()]);
  useEffect(() => () => store.stop(), [store]);
  const minute = useComputed(() => Math.floor(nowMs.value / 60_000) * 60_000).value;
  const series = store.series.value;
  // Marks stand for what is drawn, which is the range of the series until the next one has come.
  const drawn = series === null ? range : { fromMs: Date.parse(series.from), toMs: Date.parse(series.to) };
  const marks = useMemo(
    () => findingMarks(store.findings.value, drawn, minute),
    [store.findings.value, drawn.fromMs, drawn.toMs, minute],
  );
  const select = (next: TimeRange) => setQuery(rangeToQuery(next), 'push');
  const reset = () => setQuery({ from: null, to: null }, 'push');
  const onKey = (event: KeyboardEvent) => {
    if (event.target !== event.currentTarget || event.ctrlKey || event.metaKey || event.altKey) return;
    const next = rangeOfKey(event.key, range);
    if (next === null) return;
    event.preventDefault();
    if (next === 'reset') reset();
    else select(next);
  };
  return (
    <section class="record" aria-labelledby="record-title">
      <div class="record-head">
        <h2 id="record-title">Record</h2>
        <RangeControls range={range} isUsual={chosen === null} timeZone={timeZone} nowMs={minute} select={select} reset={reset} />
      </div>
      <PanelToggles keys={keys} />
      {store.problem.value !== null && <ProblemNote problem={store.problem.value} retry={() => store.load(scope)} />}
      {series === null && store.isLoading.value && <LoadingNote what="the samples" />}
      {series !== null && (
        // biome-ignore lint/a11y/noNoninteractiveTabindex: the charts take keys
        // biome-ignore lint/a11y/noNoninteractiveElementInteractions: the charts take keys
        <div
          class={store.isLoading.value ? 'panels stale' : 'panels'}
          role="group"
          aria-label="Charts. Arrow keys move in time, plus and minus zoom, Home shows the last 24 hours."
          tabIndex={0}
          onKeyDown={onKey}
        >
          <FindingLane
            marks={marks}
            timeZone={timeZone}
            nowMs={minute}
            show={({ finding }) =>
              select(rangeAround(Date.parse(finding.startedAt), finding.endedAt === null ? minute : Date.parse(finding.endedAt)))
            }
          />
          {panels.map((panel, index) => (
            <PanelView
              key={panel.key}
              panel={panel}
              series={series}
              range={drawn}
              marks={marks}
              units={units.value}
              timeZone={timeZone}
              windowC={panel.key === 'exhaust' ? detail.window : null}
              hasTimeAxis={index === panels.length - 1}
              select={select}
            />
          ))}
          <p class="record-note">
            The line is the mean of each bucket of {bucketWords(series.bucketS)}, the shade from its least to its most. Drag to zoom.
          </p>
        </div>
      )}
    </section>
  );
}

function bucketWords(bucketS: number): string {
  return bucketS < 90 ? `${Math.round(bucketS)} s` : `${Math.round(bucketS / 60)} min`;
}

/** The newest sample that the charts reach to; it follows the machine in steps while the latest day is shown. */
function useLatestMs(machineId: string, lastSampleAt: string, isLatest: boolean): number {
  const latestMs = useSignal(Date.parse(lastSampleAt));
  useEffect(() => {
    latestMs.value = Math.max(latestMs.peek(), Date.parse(lastSampleAt));
  }, [lastSampleAt, latestMs]);
  useEffect(() => {
    if (!isLatest) return;
    let heardMs = latestMs.peek();
    const move = throttle(() => void (latestMs.value = Math.max(latestMs.peek(), heardMs)), appendIntervalMs);
    const off = onMachine((event) => {
      if (event.machineId !== machineId) return;
      heardMs = Date.parse(event.lastSampleAt);
      move();
    });
    return () => {
      off();
      move.cancel();
    };
  }, [machineId, isLatest, latestMs]);
  return latestMs.value;
}
