/** Which thresholds must not cross: a level that raises lies above the one that clears, and so on. */

import type { ThresholdValues } from '@warmbrick/analysis';
import type { CatalystWindow } from '@warmbrick/signals';
import type { ThresholdName } from '../traced-thresholds.js';

interface Order {
  readonly lower: ThresholdName;
  readonly upper: ThresholdName;
  /** Whether they may be equal. */
  readonly mayTouch: boolean;
  readonly why: string;
}

const clears = (lower: ThresholdName, upper: ThresholdName): Order => ({
  lower,
  upper,
  mayTouch: false,
  why: 'it would clear where it raises',
});
const within = (lower: ThresholdName, upper: ThresholdName, why: string): Order => ({
  lower,
  upper,
  mayTouch: true,
  why,
});

const orders: readonly Order[] = [
  within('cooldownSevereS', 'cooldownWantedS', 'severe is shorter than too short'),
  within('hotMetalC', 'hotMetalSevereC', 'severe is hotter than hot'),
  within('idleBlipS', 'idleLimitS', 'a blip is shorter than a streak'),
  within('coldBlipS', 'coldLimitS', 'a blip is shorter than a dwell'),
  within('warmupBaseS', 'warmupMaxS', 'the longest warm-up is no shorter than the shortest'),
  clears('defLowPct', 'defLowClearPct'),
  within('defSeverePct', 'defLowPct', 'severe is lower than low'),
  within('defStepPct', 'defDropPct', 'a loss is more than a step'),
  clears('defForecastH', 'defForecastClearH'),
  clears('defConcentrationLowPct', 'defConcentrationHighPct'),
  clears('defDriftClearRatio', 'defDriftRatio'),
  clears('noxClearRatio', 'noxDropRatio'),
  clears('airFilterClearKPa', 'airFilterNoticeKPa'),
  within('airFilterNoticeKPa', 'airFilterLimitKPa', 'a notice comes before the limit'),
];

/**
 * What is wrong with values, in words; empty when nothing is. With the windows of the machines' catalysts the dead band has to
 * end within each of them, or a cold dwell would never clear.
 */
export function brokenConstraints(values: ThresholdValues, windows: readonly CatalystWindow[] = []): string[] {
  const broken = orders
    .filter(({ lower, upper, mayTouch }) => (mayTouch ? values[lower] > values[upper] : values[lower] >= values[upper]))
    .map(({ lower, upper, why }) => `${lower} ${values[lower]} is not below ${upper} ${values[upper]}: ${why}`);
  const narrowest = Math.min(...windows.map(({ lowC, highC }) => highC - lowC));
  if (values.coldDeadbandC >= narrowest) {
    broken.push(`coldDeadbandC ${values.coldDeadbandC} is wider than a catalyst's window of ${narrowest} K`);
  }
  return broken;
}
