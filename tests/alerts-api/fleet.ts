/** Invented machines with hand-made results for tests of the API. */

import {
  type Finding,
  findingId,
  histogramBins,
  type MachineSummary,
  type ResidencyRow,
  residencyRowS,
} from '@warmbrick/analysis';
import { createColumn, type MachineProfileInput, machineProfileSchema, type SampleBlock } from '@warmbrick/signals';
import type { MachineChange, Store } from '@warmbrick/store';

export const quarterMs = residencyRowS * 1000;

export function emptyRow(startedMs: number, part: Partial<ResidencyRow> = {}): ResidencyRow {
  return {
    startedMs,
    runningS: 0,
    idleS: 0,
    coolingDownS: 0,
    lightS: 0,
    workingS: 0,
    belowS: 0,
    inS: 0,
    aboveS: 0,
    belowReleaseS: 0,
    noTemperatureS: 0,
    crankingS: 0,
    offS: 0,
    unobservedS: 0,
    maxExhaustTempC: null,
    fuelL: 0,
    ...part,
  };
}

/** A quarter hour at work in the window. */
export function workingRow(startedMs: number): ResidencyRow {
  return emptyRow(startedMs, { runningS: 900, workingS: 900, inS: 900, maxExhaustTempC: 400, fuelL: 5 });
}

export function finding(machineId: string, startedMs: number, part: Partial<Finding> = {}): Finding {
  const kind = part.kind ?? 'idle-streak';
  return {
    id: findingId(machineId, kind, startedMs),
    machineId,
    kind,
    startedMs,
    endedMs: startedMs + 4_000_000,
    severity: 'warning',
    values: { durationS: 4000, fuelL: 2.5, isStillGoingOn: false, note: null },
    evidence: { coverageRatio: 1 },
    thresholdSet: 'built-in-1',
    emittedMs: startedMs + 4_000_000,
    ...part,
  };
}

export interface SeedOptions {
  readonly machineId: string;
  readonly fromMs: number;
  readonly toMs: number;
  readonly score?: number | null;
  readonly profile?: MachineProfileInput;
  readonly rows?: readonly ResidencyRow[];
  readonly findings?: readonly Finding[];
  readonly samples?: readonly SampleBlock[];
}

export function changeOf(options: SeedOptions): MachineChange {
  const { machineId, fromMs, toMs } = options;
  const score = options.score === undefined ? 40 : options.score;
  const { startedMs: _, ...residency } = emptyRow(0, { runningS: 3600 });
  const summary: MachineSummary = {
    machineId,
    observed: { fromMs, toMs, coverageRatio: 0.9 },
    mode: 'working',
    residency,
    histogramS: Array.from({ length: histogramBins }, () => 0),
    exhaustSourceS: { scrInletTempC: 3600 },
    longestIdleS: 1200,
    runs: 2,
    hotShutdowns: 1,
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
            confidence: 0.8,
            missing: ['No DPF soot load.'],
            advice: 'Work it above 350 °C for 25 min.',
            caution: 'Hot exhaust burns.',
          },
  };
  const snapshot = { version: 1, machineId, thresholdSet: 'built-in-1', states: {} };
  return {
    machineId,
    samples: options.samples ?? [],
    findings: options.findings ?? [],
    withdrawnFindingIds: [],
    rows: options.rows ?? [],
    summary,
    snapshot,
    keptSnapshots: [],
    rewoundToMs: null,
  };
}

export async function seedMachine(store: Store, options: SeedOptions): Promise<void> {
  await store.putMachine(options.machineId, machineProfileSchema.parse(options.profile ?? {}));
  await store.commit([changeOf(options)], null);
}

/** One-hertz samples: engine speed counts up from 800, exhaust temperature is 300 with a hole. */
export function secondsOf(machineId: string, startMs: number, count: number): SampleBlock {
  const timeMs = Float64Array.from({ length: count }, (_, i) => startMs + i * 1000);
  const engineSpeedRpm = createColumn('engineSpeedRpm', count).map((_, i) => 800 + i);
  const scrInletTempC = createColumn('scrInletTempC', count).map((_, i) => (i % 10 === 3 ? Number.NaN : 300));
  return { machineId, timeMs, channels: { engineSpeedRpm, scrInletTempC } };
}
