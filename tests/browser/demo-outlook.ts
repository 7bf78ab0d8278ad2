/** DEF tanks, NOx conversion and comparisons of the invented machines; nothing was measured. */

import { workFigureNames } from '@warmbrick/analysis';
import type { Comparison, DefOutlookAnswer, MachineDetail } from '@warmbrick/contracts';
import { type DemoMachine, spread } from './demo-machines.js';

/** The machine with a sensor that is not believed. */
export const demoSuspect = 'sk-003';

const tankL = 40;

/** The tank of a machine, or null when it was never seen running. */
export function demoDef({ machineId, confidence }: DemoMachine): MachineDetail['def'] {
  if (confidence === null) return null;
  const next = spread(Number(machineId.slice(-3)) + 900);
  const levelPct = Math.round(8 + 80 * next());
  const useLPerH = Number((0.4 + 0.8 * next()).toFixed(2));
  const hoursToLimit = Number(((Math.max(0, levelPct - 10) * tankL) / 100 / useLPerH).toFixed(1));
  return {
    levelPct,
    tankL,
    limitPct: 10,
    learnedHours: 24,
    useLPerH,
    spreadLPerH: Number((0.3 * useLPerH).toFixed(2)),
    usedBy: 'dosing',
    hoursToLimit,
    hoursToLimitLow: Number((0.8 * hoursToLimit).toFixed(1)),
    hoursToLimitHigh: Number((1.3 * hoursToLimit).toFixed(1)),
    tankTempC: -6,
    ambientTempC: -9.5,
    overnight:
      levelPct > 93
        ? 'burst-risk'
        : levelPct > 35
          ? 'fuller-than-needed'
          : levelPct < 15
            ? 'too-low'
            : 'about-a-quarter',
    marginK: 3,
  };
}

/** Bins in which both sensors were seen. */
export function demoNoxBins({ machineId, confidence }: DemoMachine): MachineDetail['noxBins'] {
  if (confidence === null) return [];
  const next = spread(Number(machineId.slice(-3)) + 700);
  return [200, 250, 300, 350, 400].map((lowC, k) => {
    const baselineRatio = 0.72 + 0.06 * k - 0.02 * next();
    return {
      lowC,
      highC: lowC + 50,
      conversionRatio: Number((baselineRatio - (k === 0 ? 0.16 : 0.02) * next()).toFixed(3)),
      baselineRatio: k === 4 ? null : Number(baselineRatio.toFixed(3)),
    };
  });
}

/** The answer about the tank. */
export function demoDefAnswer(machine: DemoMachine): DefOutlookAnswer {
  const outlook = demoDef(machine);
  const levelsAhead =
    outlook === null || outlook.useLPerH === null
      ? []
      : Array.from({ length: 13 }, (_, k) => {
          const hours = 2 * k;
          const levelPct = Math.max(0, outlook.levelPct - (100 * (outlook.useLPerH ?? 0) * hours) / tankL);
          return {
            hours,
            levelPct,
            lowPct: Math.max(0, levelPct - hours / 2),
            highPct: Math.min(outlook.levelPct, levelPct + hours / 2),
          };
        });
  return { machineId: machine.machineId, asOf: new Date(machine.lastSampleMs).toISOString(), outlook, levelsAhead };
}

/** A machine beside its like: one figure stands out, one changed, one is not known. */
export function demoComparison({ machineId, machineClass, lastSampleMs }: DemoMachine): Comparison {
  const next = spread(Number(machineId.slice(-3)) + 500);
  const at = (ms: number) => new Date(ms).toISOString();
  return {
    machineId,
    group: `${machineClass}, medium work`,
    from: at(lastSampleMs - 7 * 86_400_000),
    to: at(lastSampleMs),
    peers: 8,
    hasMorePeers: false,
    figures: workFigureNames.map((name, k) => {
      if (name === 'fuel-l-per-h') {
        const none = { groupMedian: null, lowerQuartile: null, upperQuartile: null, percentile: null };
        return { name, value: null, groupSize: 0, ...none, standing: 'unknown' as const, change: null };
      }
      const value = Number((0.2 + 0.3 * next()).toFixed(3));
      return {
        name,
        value,
        groupSize: 9,
        groupMedian: 0.3,
        lowerQuartile: 0.24,
        upperQuartile: 0.36,
        percentile: k === 0 ? 94 : 55,
        standing: k === 0 ? ('high' as const) : ('usual' as const),
        change: k === 1 ? { since: at(lastSampleMs - 9 * 86_400_000), meanBefore: 0.22, meanAfter: 0.41 } : null,
      };
    }),
  };
}
