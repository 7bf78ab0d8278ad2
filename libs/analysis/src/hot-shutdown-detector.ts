/** Hot shutdowns: stops without the cool-down at base idle that turbocharger and DEF injector want. */

import type { Detector, DetectorConfig, DetectorEvent } from './detector.js';
import { inSeconds, roundedOrNull } from './figures.js';
import type { Severity } from './finding.js';
import type { EngineStop } from './observed-block.js';

/** Share of the wanted cool-down below which a hot stop is more than a note. Source: engineering judgement. */
const warningRatio = 0.6;

/**
 * Grades every stop whose moment is known.
 *
 * A stop is hot when the turbine metal was above `hotMetalC` at the last load and the time at base idle without load since
 * then is shorter than `cooldownWantedS`. The SCR catalyst cools far too slowly to tell.
 * Missing: no load seen in the run, no judgement.
 * Source: common practice (about five minutes); domain notes, section 6.
 */
export const hotShutdownDetector: Detector<Record<string, never>> = {
  name: 'hot-shutdown',
  initial: () => ({}),
  step: (config, state, block) => {
    const events: DetectorEvent[] = [];
    for (const stop of block.stops) {
      if (isHotStop(config, stop)) events.push(stopEvent(config, stop));
    }
    return { state, events };
  },
  current: () => null,
};

/** Whether a stop was hot and too early. */
export function isHotStop(config: DetectorConfig, stop: EngineStop): boolean {
  const { hotMetalC, cooldownWantedS } = config.thresholds;
  if (!stop.isTimeKnown || stop.cooldownS === null || stop.cooldownS >= cooldownWantedS) return false;
  return stop.metalAtLoadC !== null && stop.metalAtLoadC >= hotMetalC;
}

function stopEvent(config: DetectorConfig, stop: EngineStop): DetectorEvent {
  const cooldownS = stop.cooldownS as number;
  return {
    kind: 'hot-shutdown',
    startedMs: stop.atMs,
    endedMs: stop.atMs,
    severity: severityOf(config, stop, cooldownS),
    values: {
      cooldownS: inSeconds(cooldownS * 1000),
      wantedS: config.thresholds.cooldownWantedS,
      inferred: stop.proof !== 'sample',
      turbineTempC: roundedOrNull(stop.metalAtStopC, 1),
      turbineTempAtLoadC: roundedOrNull(stop.metalAtLoadC, 1),
    },
    evidence: {
      stopSeenBy: stop.proof,
      temperatureFrom: stop.hasTurbineSensor ? 'turbine outlet sensor' : 'thermal model',
    },
  };
}

function severityOf(config: DetectorConfig, stop: EngineStop, cooldownS: number): Severity {
  const { cooldownSevereS, hotMetalSevereC, cooldownWantedS } = config.thresholds;
  if (cooldownS < cooldownSevereS || (stop.metalAtStopC ?? 0) > hotMetalSevereC) return 'severe';
  return cooldownS < warningRatio * cooldownWantedS ? 'warning' : 'notice';
}
