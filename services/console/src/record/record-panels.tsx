import { useComputed } from '@preact/signals';
import type { FindingDocument, MachineDetail, SampleSeries } from '@warmbrick/contracts';
import { useMemo } from 'preact/hooks';
import { nowMs } from '../api/server-clock.js';
import { units } from '../routing/choices.js';
import { FindingLane } from './finding-lane.js';
import { findingMarks } from './finding-marks.js';
import { isPlotted, PanelView } from './panel-view.js';
import type { Panel } from './record-channels.js';
import type { RecordStore } from './record-store.js';
import { type RangeMove, rangeAround, rangeOfKey } from './time-range.js';

interface RecordPanelsProps {
  readonly detail: MachineDetail;
  readonly store: RecordStore;
  readonly series: SampleSeries;
  readonly panels: readonly Panel[];
  readonly move: RangeMove;
  readonly timeZone: string;
}

/** The findings lane and the panels under it, moved by drag and by keys. */
export function RecordPanels({ detail, store, series, panels, move, timeZone }: RecordPanelsProps) {
  const minute = useComputed(() => Math.floor(nowMs.value / 60_000) * 60_000).value;
  // What is drawn is the range of the series until the next one has come.
  const drawn = { fromMs: Date.parse(series.from), toMs: Date.parse(series.to) };
  const marks = useMemo(
    () => findingMarks(store.findings.value, drawn, minute),
    [store.findings.value, drawn.fromMs, drawn.toMs, minute],
  );
  const lastPlotted = panels.filter((panel) => isPlotted(panel, series)).pop();
  const show = ({ startedAt, endedAt }: FindingDocument) =>
    move.select(rangeAround(Date.parse(startedAt), endedAt === null ? minute : Date.parse(endedAt)));
  return (
    <section
      class={store.isLoading.value ? 'panels stale' : 'panels'}
      aria-label="Charts. Arrow keys move in time, plus and minus zoom, Home shows the last 24 hours."
      // biome-ignore lint/a11y/noNoninteractiveTabindex: the charts take keys
      tabIndex={0}
      onKeyDown={(event) => followKey(event, move)}
    >
      <FindingLane marks={marks} timeZone={timeZone} nowMs={minute} show={(mark) => show(mark.finding)} />
      {panels.map((panel) => (
        <PanelView
          key={panel.key}
          panel={panel}
          series={series}
          range={drawn}
          marks={marks}
          units={units.value}
          timeZone={timeZone}
          windowC={panel.key === 'exhaust' ? detail.window : null}
          hasTimeAxis={panel === lastPlotted}
          select={move.select}
        />
      ))}
      <p class="record-note">
        {series.startedAt.length === 0 && 'Nothing was heard from the machine in this time. '}The line is the mean of
        each bucket of {bucketWords(series.bucketS)}, the shade from its least to its most. Drag to zoom.
      </p>
    </section>
  );
}

function followKey(event: KeyboardEvent, { range, select, reset }: RangeMove): void {
  if (event.target !== event.currentTarget || event.ctrlKey || event.metaKey || event.altKey) return;
  const next = rangeOfKey(event.key, range);
  if (next === null) return;
  event.preventDefault();
  if (next === 'reset') reset();
  else select(next);
}

function bucketWords(bucketS: number): string {
  return bucketS < 90 ? `${Math.round(bucketS)} s` : `${Math.round(bucketS / 60)} min`;
}
