import { nowMs } from '../api/server-clock.js';
import { formatInstant, zoneLabel } from '../format/instant.js';
import { type RangeMove, shiftRange, zoomRange } from './time-range.js';

interface RangeControlsProps {
  readonly move: RangeMove;
  readonly isUsual: boolean;
  readonly timeZone: string;
}

/** What time is shown and the buttons that move it. */
export function RangeControls({ move, isUsual, timeZone }: RangeControlsProps) {
  const { range, select, reset } = move;
  const instant = (timeMs: number) => formatInstant(timeMs, timeZone, nowMs.peek());
  return (
    <div class="range-controls">
      <p class="range-words">
        {instant(range.fromMs)} to {instant(range.toMs)}{' '}
        <span class="zone-name">{zoneLabel(timeZone, range.toMs)}</span>
      </p>
      <fieldset>
        <legend class="unseen">Move the time shown</legend>
        <button type="button" onClick={() => select(shiftRange(range, -0.5))}>
          Earlier
        </button>
        <button type="button" onClick={() => select(shiftRange(range, 0.5))}>
          Later
        </button>
        <button type="button" onClick={() => select(zoomRange(range, 0.5))}>
          Closer
        </button>
        <button type="button" onClick={() => select(zoomRange(range, 2))}>
          Wider
        </button>
        <button type="button" disabled={isUsual} onClick={reset}>
          Last 24 hours
        </button>
      </fieldset>
    </div>
  );
}
