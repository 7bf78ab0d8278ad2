/** How a machine of a case works: engine minutes laid out over days. */

import type { Random } from '../random.js';

export interface EngineMinute {
  readonly timeMs: number;
  readonly isWorking: boolean;
  readonly loadPct: number;
  readonly speedRpm: number;
  /** The first minute of a run. */
  readonly isStart: boolean;
}

const minuteMs = 60_000;

/** So many engine minutes in shifts of eight to eleven hours, work and idling in turn. */
export function driveOf(random: Random, minutes: number, startMs: number): EngineMinute[] {
  const drive: EngineMinute[] = [];
  let timeMs = startMs;
  let shiftLeft = 0;
  let spellLeft = 0;
  let isWorking = false;
  let meanLoadPct = 70;
  for (let minute = 0; minute < minutes; minute++) {
    const isStart = shiftLeft <= 0;
    if (isStart) {
      if (minute > 0) timeMs += Math.round(random.between(11, 16) * 60) * minuteMs;
      shiftLeft = Math.round(random.between(480, 660));
    }
    if (spellLeft <= 0) {
      isWorking = isStart ? false : random.next() < 0.75;
      spellLeft = Math.round(isWorking ? random.between(15, 90) : random.between(3, 25));
      meanLoadPct = random.between(50, 88);
    }
    const loadPct = isWorking
      ? clamp(meanLoadPct + 9 * random.normal(), 30, 100)
      : clamp(11 + 2 * random.normal(), 4, 20);
    const speedRpm = isWorking ? 1650 + 90 * random.normal() : 950 + 8 * random.normal();
    drive.push({ timeMs, isWorking, loadPct, speedRpm, isStart });
    timeMs += minuteMs;
    shiftLeft--;
    spellLeft--;
  }
  return drive;
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}
