import { useComputed, useSignal } from '@preact/signals';
import type { SampleSeries } from '@warmbrick/contracts';
import { useMemo } from 'preact/hooks';
import { formatClockS } from '../format/instant.js';
import { formatNumber, type UnitSystem, viewUnit } from '../format/unit-system.js';
import type { FindingMark } from './finding-marks.js';
import { PlotCanvas } from './plot-canvas.js';
import { hasReadings, plotColumns } from './plot-columns.js';
import type { Panel } from './record-channels.js';
import { SampleTable } from './sample-table.js';
import type { TimeRange } from './time-range.js';

interface PanelViewProps {
  readonly panel: Panel;
  readonly series: SampleSeries;
  readonly range: TimeRange;
  readonly marks: readonly FindingMark[];
  readonly units: UnitSystem;
  readonly timeZone: string;
  readonly windowC: { readonly lowC: number; readonly highC: number } | null;
  readonly hasTimeAxis: boolean;
  readonly select: (range: TimeRange) => void;
}

/** One channel over time: title, reading under the pointer, plot, and the same as a table. */
export function PanelView(props: PanelViewProps) {
  const { panel, series, units, timeZone, windowC } = props;
  const unit = viewUnit(panel.unit, units);
  const isTable = useSignal(false);
  const row = useSignal<number | null>(null);
  const columns = useMemo(() => plotColumns(series, panel.channel, unit.convert), [series, panel.channel, units]);
  const reading = useComputed(() => readingAt(row.value));
  const readingAt = (index: number | null): string => {
    const mean = index === null ? null : columns.mean[index];
    if (index === null || mean === null || mean === undefined) return '';
    const spread = `${formatNumber(columns.min[index] ?? mean)} to ${formatNumber(columns.max[index] ?? mean)}`;
    return `${formatClockS((columns.timeS[index] ?? 0) * 1000, timeZone)}   ${formatNumber(mean)} ${unit.label}   (${spread})`;
  };
  const toggleTable = () => {
    isTable.value = !isTable.value;
  };
  const isPlain = !isPlotted(panel, series);
  return (
    <section class={`panel panel-${panel.key}`} aria-label={panel.title}>
      <div class="panel-head">
        <h3>
          {panel.title} <span class="panel-unit">{unit.label}</span>
        </h3>
        <output class="panel-reading">{reading}</output>
        <button type="button" class="plain" aria-expanded={isTable.value} onClick={toggleTable}>
          {isTable.value ? 'Hide table' : 'Show as table'}
        </button>
      </div>
      {isPlain && <p class="panel-empty">No readings of this channel in the time shown.</p>}
      {!isPlain && (
        <PlotCanvas
          columns={columns}
          label={plotWords(panel.title, columns.mean, unit.label)}
          range={props.range}
          marks={props.marks}
          timeZone={timeZone}
          window={windowC === null ? null : { low: unit.convert(windowC.lowC), high: unit.convert(windowC.highC) }}
          hasTimeAxis={props.hasTimeAxis}
          heightPx={(panel.key === 'exhaust' ? 210 : 92) + (props.hasTimeAxis ? 38 : 0)}
          onSelect={props.select}
          onCursor={(index) => {
            row.value = index;
          }}
        />
      )}
      {isTable.value && <SampleTable columns={columns} panel={panel} unitLabel={unit.label} timeZone={timeZone} />}
    </section>
  );
}

/** A channel that was not sent gets a line of text; where nothing at all was heard, the empty plots still take a drag. */
export function isPlotted(panel: Panel, series: SampleSeries): boolean {
  return series.startedAt.length === 0 || hasReadings(series, panel.channel);
}

function plotWords(title: string, means: readonly (number | null)[], unitLabel: string): string {
  const known = means.filter((value) => value !== null);
  if (known.length === 0) return `${title}: no readings`;
  const least = known.reduce((a, b) => Math.min(a, b));
  const most = known.reduce((a, b) => Math.max(a, b));
  return `${title} over time, means from ${formatNumber(least)} to ${formatNumber(most)} ${unitLabel}. The table below holds the same.`;
}
