/** Which thresholds a piece of analysis asked for: what it did not ask for cannot have changed its answer. */

import type { ThresholdValues } from '@warmbrick/analysis';

export type ThresholdName = keyof ThresholdValues;

export interface TracedThresholds {
  /** Stands for the values; asking for one is noted. */
  readonly values: ThresholdValues;
  readonly asked: ReadonlySet<ThresholdName>;
}

/**
 * Wraps values so that it shows which of them were asked for.
 *
 * The analysis is a function of its input: run with other values that agree on everything it asked for, it would go the
 * same way and ask for nothing else. So an answer holds for every set that agrees on what was asked for.
 */
export function traceThresholds(values: ThresholdValues): TracedThresholds {
  const asked = new Set<ThresholdName>();
  const traced = new Proxy(values, {
    get(target, name) {
      asked.add(name as ThresholdName);
      return target[name as ThresholdName];
    },
  });
  return { values: traced, asked };
}

/** An answer with the thresholds it went by. */
export interface TracedAnswer<Answer> {
  readonly answer: Answer;
  readonly values: ThresholdValues;
  readonly asked: ReadonlySet<ThresholdName>;
}

/** Whether an answer holds for other values too. */
export function holdsFor(traced: TracedAnswer<unknown>, values: ThresholdValues): boolean {
  for (const name of traced.asked) if (traced.values[name] !== values[name]) return false;
  return true;
}
