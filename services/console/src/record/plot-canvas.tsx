import { useEffect, useRef } from 'preact/hooks';
import uPlot from 'uplot';
import { lightChanges } from './light-changes.js';
import type { PlotColumns } from './plot-columns.js';
import { type PlotSpec, plotOptions } from './plot-options.js';
import { readPlotTheme } from './plot-theme.js';

interface PlotCanvasProps extends Omit<PlotSpec, 'theme' | 'widthPx'> {
  readonly columns: PlotColumns;
  readonly label: string;
}

/** One panel's canvas. It is built anew when what it draws changes, which costs less than a frame. */
export function PlotCanvas(props: PlotCanvasProps) {
  const host = useRef<HTMLDivElement>(null);
  const light = lightChanges.value;
  const { columns, range, timeZone, window: band, marks, hasTimeAxis, heightPx } = props;
  useEffect(() => {
    const element = host.current;
    if (element === null) return;
    const theme = readPlotTheme(element);
    const options = plotOptions({ ...props, theme, widthPx: Math.max(200, element.clientWidth) });
    const plot = new uPlot(options, [columns.timeS, columns.min, columns.mean, columns.max], element);
    const observer = new ResizeObserver(() => {
      if (element.clientWidth > 0) plot.setSize({ width: element.clientWidth, height: heightPx });
    });
    observer.observe(element);
    return () => {
      observer.disconnect();
      plot.destroy();
    };
  }, [columns, range.fromMs, range.toMs, timeZone, band?.low, band?.high, marks, hasTimeAxis, heightPx, light]);
  return <div ref={host} class="plot" role="img" aria-label={props.label} />;
}
