/** How engine speed and load move from second to second under a duty segment. */

import type { CycleSegment, DutySegment } from './duty.js';
import type { Random } from './random.js';
import { approach } from './thermal-lump.js';

/** Speed and load of the crankshaft; mutable, stepped once a second. */
export interface EngineMotion {
  speedRpm: number;
  loadPct: number;
  /** Slow part of the load's wandering, in deviations. */
  gust: number;
}

export interface MotionInput {
  readonly segment: DutySegment;
  /** Seconds since the segment began. */
  readonly intoSegmentS: number;
  readonly baseIdleRpm: number;
  readonly coolantTempC: number;
  /** Torque that the engine makes available, %; a derate takes some. Default: all. */
  readonly torqueLimitPct?: number;
}

/** Load shown at base idle without accessories, % of the torque there is. Source: engineering judgement (10-20 %). */
export const idleLoadPct = 12;
/** Cranking speed, rpm, and how long it takes, s. Source: engineering judgement. */
const crankingRpm = 180;
const crankingS = 3;
/** Lag of the governor and of the load, s. Source: engineering judgement. */
const speedLagS = 1.5;
const loadLagS = 1;
/** Over this time the load's wandering forgets where it was, s. Source: engineering judgement, a loading cycle. */
const gustS = 18;
/** A cold engine idles faster by this much, rpm, below this coolant temperature. Source: engineering judgement. */
const coldIdleRpm = 60;
const coldCoolantC = 40;
const defaultPreheatS = 6;

/** Steps the motion by one second. */
export function stepMotion(motion: EngineMotion, input: MotionInput, random: Random): void {
  const { segment, baseIdleRpm } = input;
  motion.gust = approach(motion.gust, 0, 1 / gustS) + random.normal() * Math.sqrt(1 - Math.exp(-2 / gustS));
  const jitter = random.normal();
  if (segment.kind === 'off') {
    runDown(motion);
    return;
  }
  const sincePreheatS =
    segment.kind === 'start' ? input.intoSegmentS - (segment.preheatS ?? defaultPreheatS) : crankingS;
  if (sincePreheatS < crankingS) {
    motion.speedRpm = sincePreheatS < 0 ? 0 : crankingRpm + 12 * jitter;
    motion.loadPct = 0;
    return;
  }
  const limitPct = input.torqueLimitPct ?? Number.POSITIVE_INFINITY;
  if (segment.kind === 'cycle') {
    followCycle(motion, segment, { intoSegmentS: input.intoSegmentS, limitPct });
    return;
  }
  if (segment.kind === 'light' || segment.kind === 'work') {
    const isWork = segment.kind === 'work';
    const mean = segment.loadPct ?? (isWork ? 72 : 33);
    const spread = segment.spreadPct ?? (isWork ? 12 : 4);
    const wanted = clamp(mean + spread * motion.gust, isWork ? 40 : 26, 98);
    const raisedRpm = isWork ? 450 + 5 * wanted : 300;
    follow(
      motion,
      baseIdleRpm + raisedRpm + 40 * (motion.gust * 0.5 + jitter),
      Math.min(wanted + 2 * jitter, limitPct),
    );
    return;
  }
  const coldRpm = input.coolantTempC < coldCoolantC ? coldIdleRpm : 0;
  follow(motion, baseIdleRpm + coldRpm + 3 * jitter, idleLoadPct + coldRpm / 20 + jitter);
}

/** A cycle asks for torque beyond friction; the load shown counts from idle. */
function followCycle(
  motion: EngineMotion,
  segment: CycleSegment,
  now: { readonly intoSegmentS: number; readonly limitPct: number },
): void {
  const share = now.intoSegmentS / segment.durationS;
  const [fromRpm, toRpm] = segment.speedRpm;
  const [fromRatio, toRatio] = segment.torqueRatio;
  const loadPct = idleLoadPct + (100 - idleLoadPct) * (fromRatio + (toRatio - fromRatio) * share);
  follow(motion, fromRpm + (toRpm - fromRpm) * share, Math.min(loadPct, now.limitPct));
}

function follow(motion: EngineMotion, speedRpm: number, loadPct: number): void {
  motion.speedRpm = approach(motion.speedRpm, speedRpm, 1 / speedLagS);
  motion.loadPct = clamp(approach(motion.loadPct, loadPct, 1 / loadLagS), 0, 100);
}

/** Without fuel the engine stands within three seconds. */
function runDown(motion: EngineMotion): void {
  motion.loadPct = 0;
  motion.speedRpm = motion.speedRpm < 150 ? 0 : motion.speedRpm * 0.4;
}

function clamp(value: number, low: number, high: number): number {
  return Math.max(low, Math.min(value, high));
}
