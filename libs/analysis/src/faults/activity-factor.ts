/** Whether a trouble was there when the power was taken. */

import { rounded } from '../figures.js';
import type { Factor, ScoreContext } from './score-context.js';
import type { Trouble } from './trouble.js';

/** Gone for up to this many engine hours, with what remains of it as a cause. Source: engineering judgement. */
const gone = [
  { upToH: 0.3, factor: 0.8 },
  { upToH: 2, factor: 0.4 },
  { upToH: 10, factor: 0.12 },
] as const;
/** A telling without an end, within a day. Source: engineering judgement. */
const untold = { factor: 0.7, withinMs: 24 * 3_600_000 };
/** A code only told as previously active: when is not known. Source: engineering judgement. */
const previousFactor = 0.12;

/** A controller that says nothing for longer is silent. Source: engineering judgement; lists come every second. */
const unheardLimitMs = 15 * 60_000;

/** null when it had been gone for too long to matter. */
export function activityFactor(trouble: Trouble, { derate, meter }: ScoreContext): Factor | null {
  const { endedMs, episodes, isRecurring } = trouble;
  const say = (factor: number, text: string, supports: boolean | null, figures = {}): Factor => ({
    factor,
    evidence: { kind: 'still-active', text, supports, figures },
  });
  if (episodes.every(({ isPreviouslyActiveOnly }) => isPreviouslyActiveOnly)) {
    return say(previousFactor, 'Only told as previously active: when it was active is not known.', false);
  }
  if (endedMs === null || endedMs >= derate.startedMs) {
    const unheardMs = derate.startedMs - trouble.lastSeenMs;
    const unheard = unheardMs > unheardLimitMs ? ' Its controller has not been heard since, which clears nothing.' : '';
    const again = isRecurring ? ' It had come and gone before.' : '';
    return say(1, `Active when the power was taken.${again}${unheard}`, true, { episodes: episodes.length });
  }
  const isUntold = episodes.at(-1)?.endedBy === 'unknown';
  if (isUntold && derate.startedMs - endedMs <= untold.withinMs) {
    return say(untold.factor, 'Its source does not say when it cleared.', null);
  }
  const goneH = meter.between(endedMs, derate.startedMs).hours;
  const row = gone.find(({ upToH }) => goneH <= upToH);
  if (row === undefined) return null;
  return say(row.factor, `Had cleared ${rounded(goneH, 1)} engine hours before.`, row.factor >= 0.8 ? null : false, {
    goneH: rounded(goneH, 2),
  });
}
