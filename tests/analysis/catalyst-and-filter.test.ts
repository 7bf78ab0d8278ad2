import { noxBinsOf, noxConversionDetector, ratedExhaustFlowKgPerH } from '@warmbrick/analysis';
import { machineProfileSchema } from '@warmbrick/signals';
import { off, recordingOf, type Segment } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

const working = { engineSpeedRpm: 1700, engineLoadPct: 85, exhaustTempC: 380 };
const hour = 3600;
const run = (...segments: Segment[]) => analyse(recordingOf(segments, { stepS: 10 }));

describe('NOx conversion', () => {
  const nox = (forS: number, conversion: number, exhaustTempC = 380): Segment => ({
    forS,
    values: { ...working, exhaustTempC, noxInPpm: 800, noxOutPpm: 800 * (1 - conversion) },
  });

  it('is found when a bin falls below its own past by 10 points for three batches, and ends when it is back', () => {
    const { of } = run(nox(3 * hour, 0.95), nox(hour, 0.8), nox(hour, 0.95));
    const [drop, ...others] = of('nox-conversion');
    expect(others).toEqual([]);
    expect(drop?.values).toMatchObject({ baselinePct: 95, binLowC: 350, binHighC: 400 });
    expect(drop?.endedMs).not.toBeNull();
    const open = run(nox(3 * hour, 0.95), nox(hour, 0.6)).of('nox-conversion');
    expect(open.map((f) => [f.values.conversionPct, f.severity, f.endedMs])).toEqual([[60, 'warning', null]]);
  });

  it('stays silent within the deadband, for a short dip, and before there is a past', () => {
    expect(run(nox(3 * hour, 0.95), nox(2 * hour, 0.87)).of('nox-conversion')).toEqual([]);
    expect(run(nox(3 * hour, 0.95), nox(500, 0.2), nox(2 * hour, 0.95)).of('nox-conversion')).toEqual([]);
    expect(run(nox(1800, 0.95), nox(2400, 0.5)).of('nox-conversion')).toEqual([]);
  });

  it('does not mistake a cold bin for a sick catalyst: each bin has its own past', () => {
    expect(run(nox(3 * hour, 0.95), nox(2 * hour, 0.3, 230)).of('nox-conversion')).toEqual([]);
    const cold = run(nox(3 * hour, 0.95), nox(3 * hour, 0.6, 230), nox(hour, 0.4, 230), nox(hour, 0.95));
    expect(cold.of('nox-conversion').map((f) => f.values.binLowC)).toEqual([200]);
  });

  it('allows a bin what its batches vary, and learns from a drop that went away by itself', () => {
    const wild = Array.from({ length: 60 }, (_, k) => nox(600, k % 8 < 4 ? 0.85 : 0.65, 240));
    expect(run(nox(600, 0.75, 240), ...wild).of('nox-conversion').length).toBeLessThanOrEqual(1);
    expect(run(nox(3 * hour, 0.2, 210), nox(3 * hour, 0, 210)).of('nox-conversion')).toEqual([]);
  });

  it('does not count the minutes after a start, nor thin exhaust', () => {
    const restarts = Array.from({ length: 20 }, () => [off(60), nox(590, 0.1)]).flat();
    expect(run(nox(3 * hour, 0.95), ...restarts).of('nox-conversion')).toEqual([]);
    const thin: Segment = { forS: 2 * hour, values: { ...working, noxInPpm: 90, noxOutPpm: 90 } };
    expect(run(nox(3 * hour, 0.95), thin).of('nox-conversion')).toEqual([]);
  });

  it('shows its bins: nothing where nothing was seen', () => {
    const bins = noxBinsOf(noxConversionDetector.initial());
    expect(bins).toHaveLength(8);
    expect(bins[0]).toEqual({ lowC: 150, highC: 200, conversionRatio: null, baselineRatio: null });
    expect(bins[7]?.highC).toBe(550);
  });
});

describe('air filter', () => {
  const rated = ratedExhaustFlowKgPerH(machineProfileSchema.parse({}));
  const dust = (forS: number, ratedKPa: number, share = 0.9): Segment => ({
    forS,
    values: {
      ...working,
      exhaustFlowKgPerH: share * rated,
      airFilterDeltaPressureKPa: ratedKPa * share ** 2,
      ambientTempC: 15,
    },
  });

  it('has a rated flow near that of a measured 120 kW tractor, 639 kg/h at 85-90 % (domain notes 5.1)', () => {
    const flow = ratedExhaustFlowKgPerH(machineProfileSchema.parse({ ratedPowerKW: 120 }));
    expect(flow).toBeGreaterThan(560);
    expect(flow).toBeLessThan(720);
  });

  it('is a notice from 5 kPa and a warning from 6.2 kPa at rated flow (25 inH2O, US Army TM 5-3820-256-24-5)', () => {
    expect(run(dust(3 * hour, 4.8)).of('air-filter')).toEqual([]);
    expect(
      run(dust(3 * hour, 5.4))
        .of('air-filter')
        .map((f) => f.severity),
    ).toEqual(['notice']);
    const [over] = run(dust(3 * hour, 6.4)).of('air-filter');
    expect(over?.severity).toBe('warning');
    expect(over?.values.restrictionKPa).toBeCloseTo(6.4, 1);
  });

  it('is brought to rated flow: the same filter at less flow reads the same', () => {
    const at = (share: number) => run(dust(3 * hour, 6.4, share)).of('air-filter')[0]?.values.restrictionKPa;
    expect(at(0.65) as number).toBeCloseTo(at(1) as number, 1);
  });

  it('is not judged at low flow, however much it reads', () => {
    expect(run(dust(5 * hour, 12, 0.5)).of('air-filter')).toEqual([]);
  });

  it('goes by fuel and load where no flow is sent', () => {
    const fuel = (ratedKPa: number): Segment => ({
      forS: 3 * hour,
      // 150 kW at 0.215 kg/kWh and 0.835 kg/L are 38.6 L/h: this is rated power.
      values: { ...working, engineLoadPct: 100, fuelRateLPerH: 38.6, airFilterDeltaPressureKPa: ratedKPa },
    });
    expect(run(fuel(6.6)).of('air-filter')).toHaveLength(1);
    expect(run(fuel(4)).of('air-filter')).toEqual([]);
  });

  it('marks a rise that came at once, as snow does, and ends when it is gone', () => {
    const { of } = run(dust(2 * hour, 3), dust(3 * hour, 7), dust(2 * hour, 3));
    const [snow, ...others] = of('air-filter');
    expect(others).toEqual([]);
    expect(snow?.evidence.suddenRise).toBe(true);
    expect(snow?.severity).toBe('notice');
    expect(snow?.endedMs).not.toBeNull();
  });

  it('tells the trend of a filter that fills with dust', () => {
    const slowly = Array.from({ length: 60 }, (_, h) => dust(hour, 3 + h * 0.05));
    const [found] = run(...slowly).of('air-filter');
    expect(found?.values.trendKPaPer100H).toBeCloseTo(5, 0);
    expect(found?.evidence.suddenRise).toBe(false);
  });
});
