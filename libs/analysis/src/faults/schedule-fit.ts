/** How well the time from a fault to a derate fits what leads from one to the other. */

import type { InducementClass } from './inducement-class.js';
import type { InducementSchedule } from './inducement-schedule.js';

export interface ScheduleFit {
  /** 0..1. */
  readonly fitRatio: number;
  /** The step that fits best, with its schedule; null where no schedule has hours for the class. */
  readonly stepH: number | null;
  readonly scheduleId: string | null;
  readonly fromMemory: boolean;
}

/** Spread of the logarithm of real times around a schedule's. Source: engineering judgement. */
const spread = 0.45;
/** Half an hour more or less is within what confirming a fault takes, h. Source: engineering judgement. */
const slackH = 0.5;
/** What is left for a time that fits no schedule: makers differ. Source: engineering judgement. */
const leastFitRatio = 0.12;

/** Time for which the effect may follow its cause without a schedule: whole up to here, then fading, h, and what is left. */
interface Fade {
  readonly wholeH: number;
  readonly fadeH: number;
  readonly leastRatio: number;
}
/** Source: engineering judgement: an engine is protected at once, a filter fills in days. */
const fades: Readonly<Record<Exclude<InducementClass, 'quality' | 'dosing' | 'tampering' | 'egr'>, Fade>> = {
  level: { wholeH: 40, fadeH: 30, leastRatio: 0.2 },
  soot: { wholeH: 12, fadeH: 20, leastRatio: 0.2 },
  protection: { wholeH: 0.5, fadeH: 2, leastRatio: 0.08 },
  other: { wholeH: 1, fadeH: 5, leastRatio: 0.2 },
};
const unknownFade: Fade = { wholeH: 1, fadeH: 12, leastRatio: 0.35 };

/** What a fit is worth that is only possible, not seen. Source: engineering judgement. */
const possibleRatio = 0.7;

/**
 * Fit of a time in engine hours.
 *
 * Range: the time lies between `leastH` and `mostH`, which differ where a beginning was not seen or hours are not known; the best
 * that is possible counts, at a discount against one that was seen.
 */
export function scheduleFit(of: {
  inducementClass: InducementClass | null;
  leastH: number;
  mostH: number;
  isRecurring: boolean;
  schedules: readonly InducementSchedule[];
}): ScheduleFit {
  const { inducementClass, leastH, mostH } = of;
  const rows = of.schedules.flatMap((schedule) => hoursOf(schedule, inducementClass, of.isRecurring));
  if (rows.length === 0) {
    const fade = inducementClass === null ? unknownFade : fadeOf(inducementClass);
    const fitRatio = Math.max(faded(fade, mostH), possibleRatio * faded(fade, leastH));
    return { fitRatio, stepH: null, scheduleId: null, fromMemory: false };
  }
  const fits = rows.map((row) => {
    const isPossible = leastH <= row.stepH && row.stepH <= mostH;
    const seen = Math.max(closeness(leastH, row.stepH), closeness(mostH, row.stepH));
    const isKnown = mostH - leastH <= 2 * slackH;
    const fitRatio = isKnown ? seen : possibleRatio * (isPossible ? 1 : seen);
    return { ...row, fitRatio: Math.max(leastFitRatio, fitRatio) };
  });
  return fits.reduce((best, fit) => (fit.fitRatio > best.fitRatio ? fit : best));
}

function closeness(gapH: number, stepH: number): number {
  if (Math.abs(gapH - stepH) <= slackH) return 1;
  const off = Math.log(Math.max(gapH, 0.02) / stepH);
  return Math.exp(-(off * off) / (2 * spread * spread));
}

function hoursOf(schedule: InducementSchedule, of: InducementClass | null, isRecurring: boolean) {
  const paths = of === null ? [] : schedule.paths.filter(({ classes }) => classes.includes(of));
  return paths.flatMap((path) => {
    const steps = isRecurring && path.repeat !== null ? [...path.steps, ...path.repeat.steps] : path.steps;
    return steps.flatMap(({ afterH, level, fromMemory }) =>
      afterH === null || level === 'warning'
        ? []
        : [{ stepH: afterH, scheduleId: schedule.id, fromMemory: fromMemory || schedule.fromMemory }],
    );
  });
}

function fadeOf(inducementClass: InducementClass): Fade {
  return inducementClass in fades ? fades[inducementClass as keyof typeof fades] : unknownFade;
}

function faded({ wholeH, fadeH, leastRatio }: Fade, gapH: number): number {
  return gapH <= wholeH ? 1 : Math.max(leastRatio, Math.exp(-(gapH - wholeH) / fadeH));
}
