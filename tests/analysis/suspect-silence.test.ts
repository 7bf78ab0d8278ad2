import { builtInThresholds, createAnalyzer, type MachineSummary } from '@warmbrick/analysis';
import { defaultProfile, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { idle, off, recordingOf, type Segment } from '@warmbrick/testkit';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

const minutes = (count: number, at: (minute: number) => Segment['values']): Segment[] =>
  Array.from({ length: count }, (_, minute) => ({ forS: 60, values: { engineSpeedRpm: 1700, ...at(minute) } }));
const engineLoadPct = (minute: number) => Math.round(60 + 30 * Math.sin(minute / 3));
const moving = (base: number) => (minute: number) => base + (minute % 7);
/** An hour of work with both temperatures alive, then two with the first stuck, then one alive again. */
const stuckSegments = [
  ...minutes(60, (m) => ({
    engineLoadPct: engineLoadPct(m),
    exhaustTempC: moving(380)(m),
    scrInletTempC: moving(300)(m),
  })),
  ...minutes(120, (m) => ({ engineLoadPct: engineLoadPct(m), exhaustTempC: 385, scrInletTempC: moving(300)(m) })),
  ...minutes(60, (m) => ({
    engineLoadPct: engineLoadPct(m),
    exhaustTempC: moving(390)(m),
    scrInletTempC: moving(300)(m),
  })),
];
const stuck = recordingOf(stuckSegments, { stepS: 10 });

function summaryOf(blocks: readonly SampleBlock[]): MachineSummary {
  const analyzer = createAnalyzer({
    machineId: 'test-machine',
    profile: defaultProfile,
    thresholds: builtInThresholds,
  });
  for (const block of blocks) analyzer.push(block);
  return analyzer.summary() as MachineSummary;
}

describe('a suspect exhaust temperature', () => {
  it('counts as missing from then on: the next best source stands in, until it moves again', () => {
    const { exhaustSourceS, residency } = analyse(stuck).summary;
    // Stuck for half an hour before it is suspect; ninety minutes of the two hours are left for the SCR inlet.
    expect(exhaustSourceS.scrInletTempC).toBeGreaterThan(88 * 60);
    expect(exhaustSourceS.scrInletTempC).toBeLessThan(93 * 60);
    expect(residency.belowS).toBeCloseTo(exhaustSourceS.scrInletTempC as number, 0);
    expect(analyse(stuck).summary.suspectChannels).toEqual([]);
  });

  it('leaves nothing where no other source is sent, and says so', () => {
    const alone = recordingOf(
      minutes(120, (m) => ({ engineLoadPct: engineLoadPct(m), exhaustTempC: 385 })),
      { stepS: 10 },
    );
    const { residency, suspectChannels, score } = analyse(alone).summary;
    expect(residency.noTemperatureS).toBeGreaterThan(85 * 60);
    expect(suspectChannels).toEqual(['exhaustTempC']);
    expect(score?.missing.join()).toContain('exhaust temperature: its sensor is suspect');
  });

  it('is silent from the same sample on wherever the recording is cut', () => {
    const whole = JSON.stringify(summaryOf([stuck]));
    const length = stuck.timeMs.length;
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: length - 1 }), { minLength: 1, maxLength: 6 }), (cuts) => {
        const at = [...new Set([0, ...cuts, length])].sort((a, b) => a - b);
        const pieces = at.slice(1).map((to, k) => sliceBlock(stuck, at[k] as number, to));
        expect(JSON.stringify(summaryOf(pieces))).toBe(whole);
      }),
      { numRuns: 40 },
    );
  });
});

const day = (coolantTempC: (minute: number) => number): Segment[] => [
  ...minutes(60, (m) => ({
    engineLoadPct: engineLoadPct(m),
    exhaustTempC: moving(380)(m),
    coolantTempC: coolantTempC(m),
  })),
];
const suspectsOf = (segments: readonly Segment[]) =>
  analyse(recordingOf(segments, { stepS: 10 }))
    .of('sensor-suspect')
    .map((finding) => [finding.values.channel, finding.values.why, finding.endedMs === null]);
const warm = (minute: number) => Math.min(84 + (minute % 3), 20 + 4 * minute);

describe('a coolant thermometer', () => {
  const rest = off(9 * 3600);

  it('is sound when it warms and then stands within a few degrees', () => {
    expect(suspectsOf([...day(warm), rest, ...day(warm)])).toEqual([]);
  });

  it('is stuck when it does not move after a long rest', () => {
    expect(suspectsOf([...day(warm), rest, ...day(() => 86)])).toEqual([['coolantTempC', 'stuck', true]]);
    expect(suspectsOf([...day(warm), rest, ...day(() => 86), rest, ...day(warm)])).toEqual([
      ['coolantTempC', 'stuck', false],
    ]);
    // A short stop keeps it warm, and a thermostat may hold one degree for an hour.
    expect(suspectsOf([...day(warm), off(600), ...day(() => 86)])).toEqual([]);
  });

  it('is suspect when the engine never gets warm under load', () => {
    expect(suspectsOf(day((m) => 20 + (m % 9)))).toEqual([['coolantTempC', 'cold-while-running', true]]);
    expect(suspectsOf([idle(3600)])).toEqual([]);
  });

  it('is suspect when it leaves its own past at work', () => {
    const steady = Array.from({ length: 5 }, () => day((m) => 85 + (m % 3))).flat();
    const drifting = Array.from({ length: 4 }, (_, k) => day((m) => 85 + (m % 3) + 9 * (k + 1))).flat();
    expect(suspectsOf([...steady, ...drifting])).toEqual([['coolantTempC', 'drifting', true]]);
    expect(suspectsOf([...steady, ...steady])).toEqual([]);
  });
});
