import { useSignal } from '@preact/signals';
import { formatClockS, formatDay, zoneLabel } from '../format/instant.js';
import { formatNumber } from '../format/unit-system.js';
import type { PlotColumns } from './plot-columns.js';
import type { Panel } from './record-channels.js';

interface SampleTableProps {
  readonly columns: PlotColumns;
  readonly panel: Panel;
  readonly unitLabel: string;
  readonly timeZone: string;
}

/** Rows shown at first and added with each step. */
const stepRows = 100;

/** The buckets of a panel as rows; a gap is a row that says so. */
export function SampleTable({ columns, panel, unitLabel, timeZone }: SampleTableProps) {
  const shown = useSignal(stepRows);
  const showMore = () => {
    shown.value += stepRows;
  };
  const total = columns.timeS.length;
  const text = (value: number | null | undefined) => (value === null || value === undefined ? '' : formatNumber(value));
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a scrolling region must be reachable by keyboard
    <section class="table-scroll" tabIndex={0} aria-label={`${panel.title}, table`}>
      <table class="figures">
        <caption>
          {panel.title} in {unitLabel}, times in {zoneLabel(timeZone, (columns.timeS[0] ?? 0) * 1000)}
        </caption>
        <thead>
          <tr>
            <th scope="col">From</th>
            <th scope="col">Least</th>
            <th scope="col">Mean</th>
            <th scope="col">Most</th>
          </tr>
        </thead>
        <tbody>
          {columns.timeS.slice(0, shown.value).map((timeS, row) => (
            <tr key={timeS}>
              <th scope="row">
                {formatDay(timeS * 1000, timeZone)} {formatClockS(timeS * 1000, timeZone)}
              </th>
              {columns.mean[row] === null ? (
                <td colSpan={3}>no reading</td>
              ) : (
                <>
                  <td>{text(columns.min[row])}</td>
                  <td>{text(columns.mean[row])}</td>
                  <td>{text(columns.max[row])}</td>
                </>
              )}
            </tr>
          ))}
        </tbody>
      </table>
      {total > shown.value && (
        <button type="button" onClick={showMore}>
          More rows ({total - shown.value} left)
        </button>
      )}
    </section>
  );
}
