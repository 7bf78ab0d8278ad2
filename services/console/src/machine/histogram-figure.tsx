import { useSignal } from '@preact/signals';
import type { MachineDetail } from '@warmbrick/contracts';
import { brickPitch, courseHeight, coursePaths } from '../course/brick-paths.js';
import { formatDuration } from '../format/duration.js';
import { formatNumber, viewUnit } from '../format/unit-system.js';
import { units } from '../routing/choices.js';
import { type HistogramBar, histogramBars } from './histogram-bars.js';

/** A label stands at every so many degrees. */
const labelEveryC = 50;

/** Running time over exhaust temperature, for everything observed. */
export function HistogramFigure({ detail }: { readonly detail: MachineDetail }) {
  const isTable = useSignal(false);
  const toggleTable = () => {
    isTable.value = !isTable.value;
  };
  const limits = { dosingReleaseTempC: detail.profile.dosingReleaseTempC, window: detail.window };
  const bars = histogramBars(detail.histogramS, limits);
  const unit = viewUnit('degC', units.value);
  return (
    <section class="histogram" aria-labelledby="histogram-title">
      <h2 id="histogram-title">
        Temperatures it ran at <span class="head-note">everything observed, {unit.label}</span>
      </h2>
      {bars.length === 0 ? (
        <p class="nothing">No exhaust temperature was seen while the engine ran.</p>
      ) : (
        <>
          <HistogramBars bars={bars} convert={unit.convert} />
          <p class="quiet">
            The tallest column is {formatDuration(bars.reduce((most, bar) => Math.max(most, bar.lengthS), 0))}.
          </p>
          <button type="button" class="plain" aria-expanded={isTable.value} onClick={toggleTable}>
            {isTable.value ? 'Hide table' : 'Show as table'}
          </button>
          {isTable.value && <HistogramTable bars={bars} convert={unit.convert} unitLabel={unit.label} />}
        </>
      )}
    </section>
  );
}

interface BarsProps {
  readonly bars: readonly HistogramBar[];
  readonly convert: (tempC: number) => number;
}

function HistogramBars({ bars, convert }: BarsProps) {
  const mostS = bars.reduce((most, bar) => Math.max(most, bar.lengthS), 0);
  const paths = coursePaths(
    bars.map((bar) => ({ kind: bar.lengthS > 0 ? bar.kind : 'off', heightRatio: bar.lengthS / mostS, isIdle: false })),
  );
  const width = bars.length * brickPitch;
  return (
    <div class="histogram-plot">
      <svg
        viewBox={`0 0 ${width} ${courseHeight + 1}`}
        preserveAspectRatio="none"
        role="img"
        aria-label="Histogram; the table holds the same"
      >
        <path class="bed" d={`M0 ${courseHeight}h${width}`} />
        {Object.entries(paths).map(([name, path]) => (
          <path key={name} class={`brick-${name}`} d={path} />
        ))}
      </svg>
      <div class="hour-labels" aria-hidden="true">
        {bars.map((bar, index) =>
          bar.lowC % labelEveryC === 0 ? (
            <span key={bar.lowC} style={{ left: `${(index / bars.length) * 100}%` }}>
              {formatNumber(convert(bar.lowC))}
            </span>
          ) : null,
        )}
      </div>
    </div>
  );
}

function HistogramTable({ bars, convert, unitLabel }: BarsProps & { readonly unitLabel: string }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a scrolling region must be reachable by keyboard
    <section class="table-scroll" tabIndex={0} aria-label="Temperatures it ran at, table">
      <table class="figures">
        <thead>
          <tr>
            <th scope="col">{unitLabel}</th>
            <th scope="col">Time</th>
          </tr>
        </thead>
        <tbody>
          {bars.map((bar) => (
            <tr key={bar.lowC}>
              <th scope="row">
                {formatNumber(convert(bar.lowC))} to {formatNumber(convert(bar.highC))}
              </th>
              <td>{formatDuration(bar.lengthS)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}
