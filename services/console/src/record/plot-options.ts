/** How one panel is drawn. */

import uPlot from 'uplot';
import { formatClock, formatClockS, formatDay, minuteOfDay } from '../format/instant.js';
import { formatNumber } from '../format/unit-system.js';
import type { FindingMark } from './finding-marks.js';
import type { PlotTheme } from './plot-theme.js';
import type { TimeRange } from './time-range.js';

/** Room left of the plot for its scale and right of it; the finding lane lines up with it. CSS pixels. */
export const scaleWidthPx = 56;
export const rightMarginPx = 12;

export interface PlotSpec {
  readonly theme: PlotTheme;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly timeZone: string;
  readonly range: TimeRange;
  /** Temperatures between which the catalyst works well, in the unit shown. Missing: null for other panels. */
  readonly window: { readonly low: number; readonly high: number } | null;
  readonly marks: readonly FindingMark[];
  readonly hasTimeAxis: boolean;
  readonly onSelect: (range: TimeRange) => void;
  readonly onCursor: (row: number | null) => void;
}

/** Drags shorter than this are clicks. CSS pixels. */
const leastDragPx = 6;

/** Options of a panel; its data are times, least, mean and most. */
export function plotOptions(spec: PlotSpec): uPlot.Options {
  const { theme } = spec;
  const axis = { stroke: theme.quiet, font: theme.font, ticks: { show: false } };
  return {
    width: spec.widthPx,
    height: spec.heightPx,
    padding: [8, rightMarginPx, spec.hasTimeAxis ? 0 : 6, 0],
    legend: { show: false },
    tzDate: (timeS) => uPlot.tzDate(new Date(timeS * 1000), spec.timeZone),
    cursor: {
      sync: { key: 'record', setSeries: false },
      drag: { x: true, y: false, dist: leastDragPx, setScale: false },
      points: { show: false },
    },
    scales: {
      x: { time: true, range: () => [spec.range.fromMs / 1000, spec.range.toMs / 1000] },
      y: { range: (_, low, high) => scaleRange(low, high, spec.window) },
    },
    axes: [
      {
        ...axis,
        show: spec.hasTimeAxis,
        size: 38,
        space: 72,
        grid: { stroke: theme.grid, width: 1 },
        values: (_, splits, _axis, _space, stepS) =>
          splits.map((timeS) => timeLabel(timeS * 1000, stepS, spec.timeZone)),
      },
      {
        ...axis,
        size: scaleWidthPx,
        space: 30,
        grid: { stroke: theme.grid, width: 1 },
        values: (_, splits) => splits.map((value) => formatNumber(value)),
      },
    ],
    series: [
      {},
      { stroke: 'transparent', points: { show: false } },
      { stroke: theme.line, width: 1.5, points: { show: pointsWhenSparse } },
      { stroke: 'transparent', points: { show: false } },
    ],
    bands: [{ series: [3, 1], fill: theme.spread }],
    hooks: {
      drawClear: [(plot) => drawBackground(plot, spec)],
      setSelect: [
        (plot) => {
          if (plot.select.width < leastDragPx) return;
          const at = (px: number) => plot.posToVal(px, 'x') * 1000;
          spec.onSelect({ fromMs: at(plot.select.left), toMs: at(plot.select.left + plot.select.width) });
        },
      ],
      setCursor: [(plot) => spec.onCursor(plot.cursor.idx ?? null)],
    },
  };
}

/** Single readings between gaps would vanish as lines; they show as points. */
const pointsWhenSparse: uPlot.Series.Points.Show = (plot) => (plot.data[0]?.length ?? 0) < 40;

function scaleRange(low: number | null, high: number | null, window: PlotSpec['window']): [number, number] {
  const least = Math.min(low ?? 0, window === null ? 0 : (low ?? 0), 0);
  const most = Math.max(high ?? 1, window === null ? 1 : window.high * 1.12);
  return [least, most === least ? least + 1 : most * 1.04];
}

function timeLabel(timeMs: number, stepS: number, timeZone: string): string {
  if (stepS < 60) return formatClockS(timeMs, timeZone);
  const clock = formatClock(timeMs, timeZone);
  return minuteOfDay(timeMs, timeZone) === 0 ? `${clock}\n${formatDay(timeMs, timeZone)}` : clock;
}

function drawBackground(plot: uPlot, spec: PlotSpec): void {
  const { ctx, bbox } = plot;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  ctx.fillStyle = spec.theme.finding;
  for (const mark of spec.marks) {
    ctx.fillRect(
      bbox.left + mark.startRatio * bbox.width,
      bbox.top,
      Math.max(2, mark.lengthRatio * bbox.width),
      bbox.height,
    );
  }
  if (spec.window !== null) drawWindow(plot, spec.theme, spec.window);
  ctx.restore();
}

function drawWindow(plot: uPlot, theme: PlotTheme, window: { low: number; high: number }): void {
  const { ctx, bbox } = plot;
  const top = plot.valToPos(window.high, 'y', true);
  const bottom = plot.valToPos(window.low, 'y', true);
  ctx.fillStyle = theme.windowFill;
  ctx.fillRect(bbox.left, top, bbox.width, bottom - top);
  ctx.strokeStyle = theme.windowEdge;
  ctx.lineWidth = devicePixelRatio;
  ctx.setLineDash([6 * devicePixelRatio, 4 * devicePixelRatio]);
  ctx.beginPath();
  for (const y of [top, bottom]) {
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
  }
  ctx.stroke();
  ctx.setLineDash([]);
  ctx.fillStyle = theme.quiet;
  ctx.font = theme.font.replace('12px', `${12 * devicePixelRatio}px`);
  ctx.textAlign = 'right';
  ctx.fillText('catalyst window', bbox.left + bbox.width - 6 * devicePixelRatio, top + 15 * devicePixelRatio);
}
