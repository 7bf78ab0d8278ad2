/** Whether the time from a fault to the derate fits. */

import { rounded } from '../figures.js';
import type { InducementClass } from './inducement-class.js';
import { scheduleFit } from './schedule-fit.js';
import type { Factor, ScoreContext } from './score-context.js';
import type { Trouble } from './trouble.js';

/** When the clock was set back, a fault that seems to come after may have come before. Source: engineering judgement. */
const reversedFactor = 0.5;
const slackMs = 120_000;
/** A fault that may have begun before, and may not. Source: engineering judgement. */
const unheardFactor = 0.5;

/** A beginning that lies within this of the last list without it was seen, engine hours. Source: engineering judgement. */
const unseenH = 0.5;

/** Engine hours from a beginning to the derate, as a range where it was not seen or hours are not known. */
function gapOf(fromMs: number, absentAtMs: number | null, { derate, meter }: Pick<ScoreContext, 'derate' | 'meter'>) {
  const seen = meter.between(fromMs, derate.startedMs);
  const leastH = seen.isUpperBound ? leastShareOfDay * seen.hours : seen.hours;
  if (absentAtMs === null) return { leastH, mostH: Number.POSITIVE_INFINITY };
  const unseen = absentAtMs === fromMs ? seen : meter.between(absentAtMs, derate.startedMs);
  return { leastH, mostH: unseen.hours - seen.hours < unseenH ? seen.hours : unseen.hours };
}

/** A machine is at work for a fifth of the day at least. Source: engineering judgement. */
const leastShareOfDay = 0.2;

const reversedGap: Factor = {
  factor: reversedFactor,
  evidence: {
    kind: 'clock',
    text: "By the machine's clock it came later, but that clock was set back.",
    supports: null,
    figures: {},
  },
};

/** Heard of only after the derate: it may have begun at any time since its controller was last heard. */
function unheardGap(
  absentAtMs: number,
  classes: readonly (InducementClass | null)[],
  { derate, meter, schedules }: Pick<ScoreContext, 'derate' | 'meter' | 'schedules'>,
): Factor {
  const mostH = meter.between(absentAtMs, derate.startedMs).hours;
  const fits = classes.map((inducementClass) =>
    scheduleFit({ inducementClass, leastH: 0, mostH, isRecurring: false, schedules }),
  );
  return {
    factor: unheardFactor * Math.max(...fits.map(({ fitRatio }) => fitRatio)),
    evidence: {
      kind: 'coverage',
      text: 'First heard after the derate, from a controller that had not been heard since before it: it may have begun before.',
      supports: null,
      figures: { mostH: rounded(mostH, 2) },
    },
  };
}

/** Best fit over the classes it can act through, from its last coming and from its first. */
export function gapFactor(
  trouble: Trouble,
  classes: readonly (InducementClass | null)[],
  { derate, meter, schedules }: ScoreContext,
): Factor {
  const { anchorMs, firstMs, isRecurring } = trouble;
  if (anchorMs > derate.startedMs + slackMs) {
    const isUnheard = trouble.absentAtMs !== null && trouble.absentAtMs < derate.startedMs;
    return isUnheard ? unheardGap(trouble.absentAtMs as number, classes, { derate, meter, schedules }) : reversedGap;
  }
  const gaps = [gapOf(anchorMs, trouble.absentAtMs, { derate, meter })];
  if (firstMs !== anchorMs) gaps.push(gapOf(firstMs, firstMs, { derate, meter }));
  const fits = gaps.flatMap((gap) =>
    classes.map((inducementClass) => ({ ...gap, ...scheduleFit({ inducementClass, ...gap, isRecurring, schedules }) })),
  );
  const best = fits.reduce((one, other) => (other.fitRatio > one.fitRatio ? other : one));
  const { fitRatio, leastH, mostH, stepH, scheduleId, fromMemory } = best;
  const isKnown = mostH - leastH < unseenH;
  const most = Number.isFinite(mostH) ? ` to ${rounded(mostH, 1)}` : ' or more';
  const gap = `${rounded(leastH, 1)}${isKnown ? '' : most} engine hours passed from it to the derate`;
  const against = stepH === null ? '' : `; a schedule has ${rounded(stepH, 1)}${fromMemory ? ' (from memory)' : ''}`;
  return {
    factor: fitRatio,
    evidence: {
      kind: 'schedule',
      text: `${gap}${against}.`,
      supports: fitRatio >= 0.6 ? true : fitRatio <= 0.3 ? false : null,
      figures: {
        leastH: rounded(leastH, 2),
        mostH: Number.isFinite(mostH) ? rounded(mostH, 2) : null,
        stepH: stepH === null ? null : rounded(stepH, 2),
        scheduleId,
        fitRatio: rounded(fitRatio, 3),
      },
    },
  };
}
