/** An invented machine with a derate, for the tests of reports. */

import { type DerateEpisode, derateEpisodes, foldFaults, initialFaultLog, inquireOrigin } from '@warmbrick/analysis';
import type { HandoverInput } from '@warmbrick/reports';
import { type FaultReport, machineProfileSchema, type SampleBlock } from '@warmbrick/signals';

export const startMs = Date.UTC(2026, 2, 2, 6);
const minuteMs = 60_000;
const hourMs = 3_600_000;
export const machineId = 'sk-loader-3';
export const profile = machineProfileSchema.parse({
  name: 'Loader Three <b>"1"</b>',
  site: 'Skarnfell quarry',
  machineClass: 'wheel loader',
  timeZone: 'Europe/Oslo',
});

/** A day at a sample a minute; the level falls from 12 % to nothing. */
const samples: SampleBlock = (() => {
  const count = 600;
  const column = (at: (i: number) => number) => Float32Array.from({ length: count }, (_, i) => at(i));
  return {
    machineId,
    timeMs: Float64Array.from({ length: count }, (_, i) => startMs + i * minuteMs),
    channels: {
      engineSpeedRpm: column(() => 1600),
      engineLoadPct: column((i) => 50 + (i % 20)),
      scrInletTempC: column(() => 380),
      defLevelPct: column((i) => Math.max(0, 12 - i / 40)),
      engineHours: Float64Array.from({ length: count }, (_, i) => 5000 + i / 60),
    },
  };
})();

function listAt(timeMs: number, codes: readonly (readonly [number, number])[]): FaultReport {
  return {
    machineId,
    timeMs,
    sourceAddress: 0,
    kind: 'active',
    lamps: { malfunction: 'on', redStop: 'off', amberWarning: 'on', protect: 'off' },
    flash: 255,
    codes: codes.map(([spn, fmi]) => ({ spn, fmi, occurrenceCount: 3, conversionMethod: 0 })),
  };
}

/** The tank is low from the second hour; the inducement follows in the sixth. */
const reports: readonly FaultReport[] = [
  listAt(startMs, []),
  listAt(startMs + 2 * hourMs, [[1761, 17]]),
  listAt(startMs + 6 * hourMs, [
    [1761, 17],
    [5246, 16],
  ]),
];

const faults = foldFaults(initialFaultLog, reports).episodes;

/** Everything that a sheet is made from; `more` replaces parts. */
export function sampleInput(more: Partial<HandoverInput> = {}): HandoverInput {
  const derates = derateEpisodes([], faults, { profile });
  return {
    machineId,
    profile,
    period: { fromMs: startMs, toMs: startMs + 10 * hourMs },
    madeAtMs: startMs + 24 * hourMs,
    software: 'Warmbrick test',
    thresholdSet: 'built-in-1',
    maskLabel: null,
    observed: { fromMs: startMs, toMs: startMs + 10 * hourMs, coverageRatio: 0.98 },
    faults,
    notes: [{ atMs: startMs, spn: 1761, fmi: 17, typedBy: 'Aud', note: '=1+1 lamp came on at Skarnfell' }],
    fleetTable: [],
    derates: derates.map(inquired),
    clocks: [],
    findings: [],
    rows: [],
    engineHours: { from: 5000, to: 5010 },
    service: [
      { at: '2026-03-02T07:00:00.000Z', what: 'engine oil', engineHours: 5001, by: 'Aud', note: 'at Skarnfell' },
    ],
    ...more,
  };
}

function inquired(derate: DerateEpisode): HandoverInput['derates'][number] {
  const inquiry = inquireOrigin({ derate, faults, samples: [samples], findings: [], profile, schedules: [] });
  return { derate, history: [{ revision: 1, madeMs: startMs, inquiry, changes: [] }] };
}

export const read = async () => [samples];
