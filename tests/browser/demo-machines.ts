/** Invented machines for the browser tests: what each did, as segments of constant duty. Nothing here was measured. */

import type { MachineItem } from '@warmbrick/contracts';

type Mode = MachineItem['mode'];

export interface Segment {
  readonly startMs: number;
  readonly endMs: number;
  readonly mode: Mode;
  readonly loadPct: number;
  /** Temperature at the start, and the one it tends to. */
  readonly fromC: number;
  readonly towardsC: number;
}

export interface DemoMachine {
  readonly machineId: string;
  readonly name: string;
  readonly machineClass: string;
  readonly site: string;
  readonly timeZone: string;
  readonly segments: readonly Segment[];
  readonly lastSampleMs: number;
  /** Confidence of its score; null when its engine was never seen running. */
  readonly confidence: number | null;
}

const minuteMs = 60_000;
const dayMs = 86_400_000;
/** Exhaust follows the load with about this lag. */
const lagMs = 4 * minuteMs;
const daysBack = 14;

const sites = [
  ['Skarnfell quarry', 'Europe/Oslo'],
  ['Ostvik harbour', 'Europe/Helsinki'],
  ['Tarn Hollow tip', 'America/Denver'],
] as const;
const kinds = [
  ['Loader', 'wheel loader', 0.55],
  ['Hauler', 'articulated hauler', 0.8],
  ['Digger', 'excavator', 0.6],
  ['Drill', 'drill rig', 0.9],
  ['Light tower', 'generator set', 0.12],
  ['Sweeper', 'yard sweeper', 0.3],
] as const;

/** A fleet of a given size as it stands at `nowMs`; the same arguments give the same fleet. */
export function demoMachines(count: number, nowMs: number): DemoMachine[] {
  return Array.from({ length: count }, (_, index) => demoMachine(index, nowMs));
}

/** Exhaust temperature in a segment. */
export function tempAt(segment: Segment, timeMs: number): number {
  const span = segment.fromC - segment.towardsC;
  return segment.towardsC + span * Math.exp(-(timeMs - segment.startMs) / lagMs);
}

/** Evenly spread numbers of 0-1 that follow from a seed (a linear congruential generator). */
export function spread(seed: number): () => number {
  let state = (seed * 2_654_435_761 + 12_345) >>> 0;
  return () => {
    state = (state * 1_664_525 + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
}

function demoMachine(index: number, nowMs: number): DemoMachine {
  const [site, timeZone] = sites[index % sites.length] ?? sites[0];
  const [name, machineClass, heat] = kinds[index % kinds.length] ?? kinds[0];
  const next = spread(index + 1);
  // Every fifth machine is silent; one was never seen running.
  const silentMs = index % 5 === 3 ? (20 + next() * 300) * minuteMs : 0;
  const lastSampleMs = nowMs - silentMs;
  const neverRan = index === 10;
  return {
    machineId: `sk-${String(index + 1).padStart(3, '0')}`,
    name: `${name} ${String(index + 1).padStart(2, '0')}`,
    machineClass,
    site,
    timeZone,
    segments: neverRan ? [] : layDays({ heat, next, lastSampleMs, index }),
    lastSampleMs,
    confidence: neverRan ? null : index % 7 === 4 ? 0.35 : index % 4 === 1 ? 0.7 : 0.95,
  };
}

interface Duty {
  readonly heat: number;
  readonly next: () => number;
  readonly lastSampleMs: number;
  readonly index: number;
}

function layDays(duty: Duty): Segment[] {
  const segments: Segment[] = [];
  let tempC = 10;
  const lay = (mode: Mode, startMs: number, minutes: number, loadPct: number) => {
    const wantedMs = startMs + minutes * minuteMs;
    const endMs = Math.min(wantedMs, duty.lastSampleMs);
    if (endMs <= startMs || (mode === 'unobserved' && endMs < wantedMs)) return wantedMs;
    const towardsC = targetC(mode, loadPct, duty.heat);
    segments.push({ startMs, endMs, mode, loadPct, fromC: tempC, towardsC });
    const last = segments[segments.length - 1];
    if (last !== undefined) tempC = tempAt(last, endMs);
    return wantedMs;
  };
  const firstDayMs = Math.floor(duty.lastSampleMs / dayMs) * dayMs - (daysBack - 1) * dayMs;
  for (let day = 0; day < daysBack; day += 1) {
    const startMs = firstDayMs + day * dayMs + (4.6 + duty.next() * 1.5) * 3_600_000;
    layShift(startMs, duty, lay);
  }
  return segments;
}

type Lay = (mode: Mode, startMs: number, minutes: number, loadPct: number) => number;

function layShift(startMs: number, { heat, next, index }: Duty, lay: Lay): void {
  let at = lay('idle', startMs, 6 + next() * 12, 10);
  const endMs = startMs + (9 + next() * 4) * 3_600_000;
  while (at < endMs) {
    at = lay('working', at, 25 + next() * 80, 30 + heat * 60 + next() * 15);
    at = lay('light', at, 5 + next() * 25, 25 + next() * 12);
    if (next() < 0.12) at = lay('unobserved', at, 12 + next() * 50, 0);
    if (next() < 0.5) at = lay('idle', at, next() < 0.25 ? 66 + next() * 60 : 5 + next() * 25, 8);
    if (next() < 0.2) at = lay('off', at, 20 + next() * 40, 0);
  }
  if (index % 3 !== 1) lay('cooling-down', at, 5, 6);
}

function targetC(mode: Mode, loadPct: number, heat: number): number {
  if (mode === 'off' || mode === 'unobserved') return 12;
  if (mode === 'working') return 150 + loadPct * 3 + heat * 60;
  return mode === 'light' ? 215 + heat * 60 : 150;
}
