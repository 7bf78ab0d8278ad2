import { formatInstant, zoneLabel } from '../format/instant.js';
import type { TimeRange } from './time-range.js';
import { shiftRange, zoomRange } from './time-range.js';

interface RangeControlsProps {
  readonly range: TimeRange;
  readonly isUsual: boolean;
  readonly timeZone: string;
  readonly nowMs: number;
  readonly select: (range: TimeRange) => void;
  readonly reset: () => void;
}

/** What time is shown and the buttons that move it. */
export function RangeControls({ range, isUsual, timeZone, nowMs, select, reset }: RangeControlsProps) {
  return (
    <div class="range-controls">
      <p class="range-words">
        {formatInstant(range.fromMs, timeZone, nowMs)} to {formatInstant(range.toMs, timeZone, nowMs)}{' '}
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

/**
 * The range that a key asks for: arrows move, plus and minus zoom.
 *
 * Missing: null for any other key; "reset" for Home and 0.
 */
export function rangeOfKey(key: string, range: TimeRange): TimeRange | 'reset' | null {
  if (key === 'ArrowLeft') return shiftRange(range, -0.25);
  if (key === 'ArrowRight') return shiftRange(range, 0.25);
  if (key === '+' || key === '=') return zoomRange(range, 0.5);
  if (key === '-') return zoomRange(range, 2);
  return key === 'Home' || key === '0' ? 'reset' : null;
}
