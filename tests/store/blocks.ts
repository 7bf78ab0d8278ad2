/** Sample blocks and changes for the tests of the store. */

import type { AnalyzerSnapshot, Finding, MachineSummary, ResidencyRow } from '@warmbrick/analysis';
import { type ChannelName, channels, createColumn, quantiseColumn, type SampleBlock } from '@warmbrick/signals';
import type { MachineChange } from '@warmbrick/store';

/** A full hour, far from any edge. */
export const hourStartMs = Date.UTC(2026, 0, 15, 6);

/** A block of one value a channel and second, quantised, that tells machine and time apart. */
export function steadyBlock(machineId: string, fromMs: number, count: number): SampleBlock {
  const timeMs = Float64Array.from({ length: count }, (_, i) => fromMs + i * 1000);
  const speed = createColumn('engineSpeedRpm', count).map((_, i) => 900 + ((fromMs / 1000 + i) % 300));
  const temperature = createColumn('exhaustTempC', count).map((_, i) => 200 + ((fromMs / 1000 + i) % 97) / 4);
  const column = { engineSpeedRpm: speed, exhaustTempC: temperature };
  for (const name of Object.keys(column) as (keyof typeof column)[]) quantiseColumn(name, column[name]);
  return { machineId, timeMs, channels: column };
}

/** A seeded random walk of each channel with noise of a few steps, one sample a second. */
export function noisyBlock(names: readonly ChannelName[], count: number, seed: number): SampleBlock {
  const random = mulberry32(seed);
  const timeMs = Float64Array.from({ length: count }, (_, i) => hourStartMs + i * 1000);
  const columns: Partial<Record<ChannelName, Float32Array | Float64Array>> = {};
  for (const name of names) {
    const { resolution, min, max } = channels[name];
    const column = createColumn(name, count);
    let level = (min + max) / 2;
    for (let i = 0; i < count; i++) {
      level += (random() - 0.5) * 4 * resolution;
      column[i] = level + (random() + random() + random() - 1.5) * 8 * resolution;
    }
    quantiseColumn(name, column);
    columns[name] = column;
  }
  return { machineId: 'quarry-haul-01', timeMs, channels: columns };
}

/** Source: T. Ettinger's mulberry32, public domain; any seeded generator would do. */
function mulberry32(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

export function summaryOf(machineId: string, toMs: number, score: number | null): MachineSummary {
  const { startedMs: _, ...residency } = rowAt(0, 0);
  return {
    machineId,
    observed: { fromMs: hourStartMs, toMs, coverageRatio: 1 },
    mode: 'idle',
    residency,
    histogramS: [0, 1.5],
    exhaustSourceS: { exhaustTempC: 12.25 },
    longestIdleS: 0,
    runs: 1,
    hotShutdowns: 0,
    load: null,
    def: null,
    noxBins: [],
    suspectChannels: [],
    score:
      score === null
        ? null
        : {
            value: score,
            parts: { 'soot-load': 0, deposits: 0, 'cold-running': score, idling: 0, 'hot-stops': 0 },
            confidence: 1,
            missing: [],
            advice: '25 min above 400 C',
            caution: 'Hot exhaust burns.',
          },
  };
}

export function rowAt(startedMs: number, runningS: number): ResidencyRow {
  return {
    startedMs,
    runningS,
    idleS: 0.1 + 0.2,
    coolingDownS: 0,
    lightS: 1 / 3,
    workingS: 0,
    belowS: 0,
    inS: 0,
    aboveS: 0,
    belowReleaseS: 0,
    noTemperatureS: 0,
    crankingS: 0,
    offS: 0,
    unobservedS: 0,
    maxExhaustTempC: startedMs === 0 ? null : 412.03125,
    fuelL: 1e-7,
  };
}

export function findingAt(machineId: string, startedMs: number, more: Partial<Finding> = {}): Finding {
  return {
    id: `${machineId}~idle-streak~${startedMs}`,
    machineId,
    kind: 'idle-streak',
    startedMs,
    endedMs: null,
    severity: 'warning',
    values: { lengthS: 3600.5, engineHours: null, 'a long name comes first': true, b: 'text' },
    evidence: { coverageRatio: 1 / 3 },
    thresholdSet: 'built-in-1',
    emittedMs: startedMs + 3_600_000,
    ...more,
  };
}

export function snapshotOf(machineId: string): AnalyzerSnapshot {
  return { version: 1, machineId, thresholdSet: 'built-in-1', states: { z: 1 / 3, a: [1e-7, null] } };
}

/** A change that carries nothing but how the machine stands; `more` adds to it. */
export function changeOf(machineId: string, more: Partial<MachineChange> = {}): MachineChange {
  return {
    machineId,
    samples: [],
    findings: [],
    withdrawnFindingIds: [],
    rows: [],
    summary: summaryOf(machineId, hourStartMs, 10),
    snapshot: snapshotOf(machineId),
    keptSnapshots: [],
    rewoundToMs: null,
    ...more,
  };
}
