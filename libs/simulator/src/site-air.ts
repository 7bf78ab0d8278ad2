/** The air at a site by instant. */

import { hourOfDay, localDay, localInstantMs, offsetMs } from './calendar.js';
import { ambientTempC, type Climate, dayMeanTempC } from './climate.js';

/** Ambient temperature by instant, with the local day worked out once for each. */
export function createAir(climate: Climate, timeZone: string, seed: number): (timeMs: number) => number {
  let untilMs = Number.NEGATIVE_INFINITY;
  let zoneOffsetMs = 0;
  let means: readonly [number, number] = [climate.meanTempC, climate.meanTempC];
  return (timeMs) => {
    if (timeMs >= untilMs) {
      const day = localDay(timeMs, timeZone);
      zoneOffsetMs = offsetMs(timeMs, timeZone);
      means = [dayMeanTempC(climate, day, seed), dayMeanTempC(climate, day + 1, seed)];
      untilMs = Math.max(localInstantMs(day + 1, 0, timeZone), timeMs + 1000);
    }
    return ambientTempC(climate, means, hourOfDay(timeMs, zoneOffsetMs));
  };
}
