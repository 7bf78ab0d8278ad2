/** Prescribed duty cycles, as pieces between which speed and torque go in straight lines. */

import type { CycleSegment } from './duty.js';

export const dutyCycles = ['ramped-c1', 'ramped-d2', 'transient'] as const;
export type DutyCycleName = (typeof dutyCycles)[number];

/** Speeds that a cycle's shares stand for. */
export interface CycleSpeeds {
  readonly idleRpm: number;
  readonly intermediateRpm: number;
  readonly maxTestRpm: number;
}

/** Speeds of an engine rated at 1900 rpm. Source: engineering judgement; intermediate 60-75 % of rated, from memory. */
export const usualCycleSpeeds: CycleSpeeds = { idleRpm: 950, intermediateRpm: 1300, maxTestRpm: 1900 };

/** Seconds at a point, which is idle, intermediate or maximum test speed, and torque in % of that at this speed. */
type Mode = readonly [steadyS: number, speed: 'idle' | 'intermediate' | 'max', torquePct: number];

/** Between two modes. Source: 40 CFR part 1039 Appendix II. */
const transitionS = 20;

/** Ramped-modal cycle of variable-speed engines from 19 kW. Source: 40 CFR part 1039 Appendix II (c)(2); the last mode is the rest of 1800 s. */
const rampedC1: readonly Mode[] = [
  [126, 'idle', 0],
  [159, 'intermediate', 100],
  [160, 'intermediate', 50],
  [162, 'intermediate', 75],
  [246, 'max', 100],
  [164, 'max', 10],
  [248, 'max', 75],
  [247, 'max', 50],
  [128, 'idle', 0],
];

/** Ramped-modal cycle of constant-speed engines. Source: 40 CFR part 1039 Appendix II (a)(2). */
const rampedD2: readonly Mode[] = [
  [53, 'max', 100],
  [101, 'max', 10],
  [277, 'max', 75],
  [339, 'max', 25],
  [350, 'max', 50],
];

/**
 * Seconds 24 to 141 of the transient cycle, each "speed torque" in % of the range and of the torque there.
 * Source: nonroad transient cycle, 40 CFR part 1039 Appendix VI; a handful of the pairs had run together in the copy that
 * was read and were parted by judgement, so this is like that cycle and no substitute for it.
 */
const transientPairs = `1 3,1 3,1 3,1 3,1 3,1 3,1 6,1 6,2 1,4 13,7 18,9 21,17 20,33 42,57 46,44 33,31 0,22 27,33 43,80 49,105 47,98 70,
104 36,104 65,96 71,101 62,102 51,102 50,102 46,102 41,102 31,89 2,82 0,47 1,23 1,1 3,1 8,1 3,1 5,1 6,1 4,1 4,0 6,1 4,9 21,25 56,
64 26,60 31,63 20,62 24,64 8,58 44,65 10,65 12,68 23,69 30,71 30,74 15,71 23,73 20,73 21,73 19,70 33,70 34,65 47,66 47,64 53,65 45,
66 38,67 49,69 39,69 39,66 42,71 29,75 29,72 23,74 22,75 24,73 30,74 24,77 6,76 12,74 39,72 30,75 22,78 64,102 34,103 28,103 28,
103 19,103 32,104 25,103 38,103 39,103 34,102 44,103 38,102 43,103 34,102 41,103 44,103 37,103 27,104 13,104 30,104 19,103 28,
104 40,104 32,101 63,102 54,102 52,102 51,103 40,104 34,102 36,104 44,103 44,104 33,102 27,103 26`;

/**
 * The segments of one run of a cycle.
 *
 * Range: 1800 s for `ramped-c1`, 1200 s for `ramped-d2`, 118 s for `transient`; the engine has to be running before.
 */
export function dutyCycle(name: DutyCycleName, speeds: CycleSpeeds = usualCycleSpeeds): CycleSegment[] {
  if (name === 'transient') return transientCycle(speeds);
  return rampedCycle(name === 'ramped-c1' ? rampedC1 : rampedD2, speeds);
}

function rampedCycle(modes: readonly Mode[], speeds: CycleSpeeds): CycleSegment[] {
  const rpm = { idle: speeds.idleRpm, intermediate: speeds.intermediateRpm, max: speeds.maxTestRpm };
  return modes.flatMap(([steadyS, speed, torquePct], i): CycleSegment[] => {
    const here = { speedRpm: rpm[speed], torqueRatio: torquePct / 100 };
    const steady = piece(steadyS, here, here);
    const next = modes[i + 1];
    if (next === undefined) return [steady];
    return [steady, piece(transitionS, here, { speedRpm: rpm[next[1]], torqueRatio: next[2] / 100 })];
  });
}

function transientCycle({ idleRpm, maxTestRpm }: CycleSpeeds): CycleSegment[] {
  const points = transientPairs.split(',').map((pair) => {
    const [speedPct = 0, torquePct = 0] = pair.trim().split(' ').map(Number);
    return { speedRpm: idleRpm + (speedPct / 100) * (maxTestRpm - idleRpm), torqueRatio: torquePct / 100 };
  });
  return points.map((point, i) => piece(1, points[Math.max(0, i - 1)] as Point, point));
}

interface Point {
  readonly speedRpm: number;
  readonly torqueRatio: number;
}

function piece(durationS: number, from: Point, to: Point): CycleSegment {
  return {
    kind: 'cycle',
    durationS,
    speedRpm: [from.speedRpm, to.speedRpm],
    torqueRatio: [from.torqueRatio, to.torqueRatio],
  };
}
