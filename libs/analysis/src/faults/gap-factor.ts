/** Whether the time from a fault to the derate fits. */

import { rounded } from '../figures.js';
import type { InducementClass } from './inducement-class.js';
import { scheduleFit } from './schedule-fit.js';
import type { Factor, ScoreContext } from './score-troubles.js';
import type { Trouble } from './trouble.js';

/** When the clock was set back, a fault that seems to come after may have come before. Source: engineering judgement. */
const reversedFactor = 0.5;
const slackMs = 120_000;

/** Best fit over the classes it can act through, from its last coming and from its first. */
export function gapFactor(
  trouble: Trouble,
  classes: readonly (InducementClass | null)[],
  { derate, meter, schedules }: ScoreContext,
): Factor {
  const { anchorMs, firstMs, isRecurring } = trouble;
  if (anchorMs > derate.startedMs + slackMs) {
    return {
      factor: reversedFactor,
      evidence: {
        kind: 'clock',
        text: "By the machine's clock it came later, but that clock was set back.",
        supports: null,
        figures: {},
      },
    };
  }
  const starts = firstMs === anchorMs ? [anchorMs] : [anchorMs, firstMs];
  const fits = starts.flatMap((fromMs) => {
    const { hours, isUpperBound } = meter.between(fromMs, derate.startedMs);
    return classes.map((inducementClass) => ({
      ...scheduleFit({ inducementClass, gapH: hours, isUpperBound, isRecurring, schedules }),
      gapH: hours,
      isUpperBound,
    }));
  });
  const best = fits.reduce((one, other) => (other.fitRatio > one.fitRatio ? other : one));
  const { fitRatio, gapH, isUpperBound, stepH, scheduleId, fromMemory } = best;
  const gap = `${isUpperBound ? 'At most ' : ''}${rounded(gapH, 1)} engine hours passed from it to the derate`;
  const against = stepH === null ? '' : `; a schedule has ${rounded(stepH, 1)}${fromMemory ? ' (from memory)' : ''}`;
  return {
    factor: fitRatio,
    evidence: {
      kind: 'schedule',
      text: `${gap}${against}.`,
      supports: fitRatio >= 0.6 ? true : fitRatio <= 0.3 ? false : null,
      figures: {
        gapH: rounded(gapH, 2),
        isUpperBound,
        stepH: stepH === null ? null : rounded(stepH, 2),
        scheduleId,
        fitRatio: rounded(fitRatio, 3),
      },
    },
  };
}
