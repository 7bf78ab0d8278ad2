/** What an outlook needs of the soot model: what work does to the filter, and what the load rests on. */

import { no2SootCapGPerS, type SootConditions } from '@warmbrick/aftertreatment';
import type { DetectorConfig } from './detector.js';
import type { SootLoadState } from './soot-load.js';
import { burnFromC, loadWidth, no2LoadedRatio, o2Ratio, sootTable } from './soot-table.js';

/** Load of the work that an outlook speaks of. Source: engineering judgement; 350 C needs 50-75 % (domain notes, 5.2). */
const workLoadPct = 75;
/** Running time for which a measurement counts, ms: the model's own doubt has then grown to a fifth of the limit. */
const measuredMs = 36_000_000;

/** What work well loaded does to the filter at a steady temperature. Source: the model's own tables at 75 % load. */
export function workConditions(config: DetectorConfig, tempC: number): SootConditions {
  const [sootPerFuel, flowPerFuel, fuel] = sootTable(config).byLoad.subarray(workLoadPct * loadWidth) as unknown as [
    number,
    number,
    number,
  ];
  const isCold = tempC < burnFromC(config);
  return {
    sootInGPerS: sootPerFuel * fuel,
    tempC,
    no2Ratio: isCold ? 0 : no2LoadedRatio,
    o2Ratio: isCold ? 0 : o2Ratio,
    no2CapGPerS: no2SootCapGPerS(flowPerFuel * fuel, isCold ? 0 : no2LoadedRatio),
  };
}

/** What the load rests on. */
export const sootBases = ['model', 'signal', 'pressure', 'signal-and-pressure'] as const;
export type SootBasis = (typeof sootBases)[number];

/** The measurements that are in the load and not yet ten running hours old. */
export function sootBasisOf({ fused, sinceFusedMs, pressure }: SootLoadState): SootBasis {
  const hasSignal = fused > 0 && sinceFusedMs < measuredMs;
  const hasPressure = pressure.sinceTakenMs !== null && pressure.sinceTakenMs < measuredMs;
  if (hasSignal) return hasPressure ? 'signal-and-pressure' : 'signal';
  return hasPressure ? 'pressure' : 'model';
}
