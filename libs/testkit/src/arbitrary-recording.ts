/** Random recordings with everything that happens to machines, for property tests. */

import type { SampleBlock } from '@warmbrick/signals';
import fc from 'fast-check';
import { recordingOf, type Segment } from './segments.js';

const temperature = fc.option(fc.integer({ min: 20, max: 600 }), { freq: 8, nil: undefined });

/** Channels that only some machines send, at values that matter to what watches them. */
const further = fc.record(
  {
    activeRegenState: fc.constantFrom(0, 1, 1, 2),
    regenInhibitedState: fc.constantFrom(0, 1),
    dpfSootPct: fc.integer({ min: 0, max: 140 }),
    dpfInletTempC: fc.integer({ min: 100, max: 650 }),
    dpfOutletTempC: fc.integer({ min: 100, max: 650 }),
    scrInletTempC: fc.integer({ min: 20, max: 600 }),
    scrOutletTempC: fc.integer({ min: 20, max: 600 }),
    defLevelPct: fc.constantFrom(0, 4, 9, 12, 30, 62, 70, 95),
    defTempC: fc.integer({ min: -30, max: 40 }),
    defConcentrationPct: fc.constantFrom(20, 29, 32.5, 33, 40),
    defPropertyState: fc.constantFrom(0, 1, 2, 3, 12, 13),
    defDosingGPerH: fc.integer({ min: 0, max: 9000 }),
    defTankHeaterPct: fc.constantFrom(0, 100),
    ambientTempC: fc.integer({ min: -30, max: 30 }),
    noxInPpm: fc.integer({ min: 50, max: 1500 }),
    noxOutPpm: fc.integer({ min: 0, max: 900 }),
    airFilterDeltaPressureKPa: fc.integer({ min: 0, max: 12 }),
    exhaustFlowKgPerH: fc.integer({ min: 100, max: 1300 }),
    inducementSeverity: fc.constantFrom(0, 0, 1, 3, 5, 6),
    torqueLimitPct: fc.constantFrom(100, 100, 75, 50),
    derateRequestPct: fc.constantFrom(0, 0, 25),
    torqueModeState: fc.constantFrom(0, 1, 8),
  },
  { requiredKeys: [] },
);

const segment: fc.Arbitrary<Segment> = fc
  .record({
    forS: fc.oneof(fc.integer({ min: 1, max: 90 }), fc.integer({ min: 60, max: 5400 })),
    kind: fc.constantFrom('off', 'cranking', 'idle', 'idle', 'light', 'work', 'work', 'silence', 'no-speed', 'no-load'),
    exhaustTempC: temperature,
    turbineOutTempC: fc.option(fc.integer({ min: 20, max: 650 }), { freq: 1, nil: undefined }),
    coolantTempC: fc.option(fc.integer({ min: -20, max: 100 }), { freq: 3, nil: undefined }),
    engineHours: fc.option(fc.integer({ min: 0, max: 400 }), { freq: 1, nil: undefined }),
    fuelRateLPerH: fc.option(fc.integer({ min: 1, max: 40 }), { freq: 2, nil: undefined }),
    others: fc.option(further, { freq: 3, nil: undefined }),
  })
  .map(({ forS, kind, others, ...extra }) => {
    if (kind === 'silence') return { forS, silent: true };
    const states: Record<string, Record<string, number>> = {
      off: { engineSpeedRpm: 0 },
      cranking: { engineSpeedRpm: 180 },
      idle: { engineSpeedRpm: 960, engineLoadPct: 12 },
      light: { engineSpeedRpm: 1400, engineLoadPct: 30 },
      work: { engineSpeedRpm: 1700, engineLoadPct: 80 },
      'no-speed': { engineLoadPct: 50 },
      'no-load': { engineSpeedRpm: 950 },
    };
    const values = Object.fromEntries(
      Object.entries({ ...states[kind], ...extra, ...others }).filter(([, value]) => typeof value === 'number'),
    );
    return { forS, values };
  });

/** A recording of up to so many segments, at one of several sample periods. */
export function arbitraryRecording(maxSegments = 12): fc.Arbitrary<SampleBlock> {
  return fc
    .record({
      segments: fc.array(segment, { minLength: 1, maxLength: maxSegments }),
      stepS: fc.constantFrom(5, 10, 30, 60, 90),
    })
    .map(({ segments, stepS }) => recordingOf(segments, { stepS }));
}
