import { findingSentence, kindName, severityRank } from '../format/finding-words.js';
import { formatInstant } from '../format/instant.js';
import { Pile } from '../parts/pile.js';
import type { FindingMark } from './finding-marks.js';
import { rightMarginPx, scaleWidthPx } from './plot-options.js';

interface FindingLaneProps {
  readonly marks: readonly FindingMark[];
  readonly timeZone: string;
  readonly nowMs: number;
  readonly show: (mark: FindingMark) => void;
}

/** Height of one lane. CSS pixels. */
const lanePx = 26;

/** Findings above the charts, on the same time axis. Each one can be gone to. */
export function FindingLane({ marks, timeZone, nowMs, show }: FindingLaneProps) {
  const lanes = marks.reduce((most, mark) => Math.max(most, mark.lane + 1), 1);
  return (
    <div class="lane" style={{ paddingLeft: `${scaleWidthPx}px`, paddingRight: `${rightMarginPx}px` }}>
      {marks.length === 0 && <p class="lane-empty">Nothing found in the time shown</p>}
      <ul style={{ height: marks.length === 0 ? '0' : `${lanes * lanePx}px` }} aria-label="Findings in the time shown">
        {marks.map((mark) => (
          <li
            key={mark.finding.id}
            style={{
              left: `${mark.startRatio * 100}%`,
              width: `${mark.lengthRatio * 100}%`,
              top: `${mark.lane * lanePx}px`,
            }}
          >
            <button
              type="button"
              class={`lane-mark severity-${mark.finding.severity}`}
              title={findingSentence(mark.finding, nowMs)}
              aria-label={`${findingSentence(mark.finding, nowMs)}, ${mark.finding.severity}, ${formatInstant(Date.parse(mark.finding.startedAt), timeZone, nowMs)}: show on the charts`}
              onClick={() => show(mark)}
            >
              <Pile filled={severityRank(mark.finding.severity)} tone="severity" />
              <span>{kindName(mark.finding.kind)}</span>
            </button>
          </li>
        ))}
      </ul>
    </div>
  );
}
