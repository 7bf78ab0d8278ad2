import { recordingOf, type Segment } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

/** Minutes of running, each with its own values. */
const minutes = (count: number, at: (minute: number) => Segment['values']): Segment[] =>
  Array.from({ length: count }, (_, minute) => ({ forS: 60, values: { engineSpeedRpm: 1700, ...at(minute) } }));
const suspects = (segments: Segment[]) =>
  analyse(recordingOf(segments, { stepS: 10 }))
    .of('sensor-suspect')
    .map((f) => [f.values.channel, f.values.why, f.endedMs === null]);
/** Load that goes up and down over a quarter of an hour. */
const loadPct = (minute: number) => Math.round(60 + 30 * Math.sin(minute / 3));

describe('suspect temperatures', () => {
  it('are stuck when they stand still for 30 min while the load moves', () => {
    expect(suspects(minutes(40, (m) => ({ engineLoadPct: loadPct(m), scrInletTempC: 380 })))).toEqual([
      ['scrInletTempC', 'stuck', true],
    ]);
    expect(suspects(minutes(28, (m) => ({ engineLoadPct: loadPct(m), scrInletTempC: 380 })))).toEqual([]);
    expect(
      suspects([
        ...minutes(40, (m) => ({ engineLoadPct: loadPct(m), dpfInletTempC: 125 })),
        ...minutes(9, (m) => ({ engineLoadPct: loadPct(m), dpfInletTempC: 360 + m })),
      ]),
    ).toEqual([['dpfInletTempC', 'stuck', false]]);
  });

  it('are not stuck at steady load, or when they move a little', () => {
    expect(suspects(minutes(60, () => ({ engineLoadPct: 75, scrInletTempC: 380 })))).toEqual([]);
    expect(suspects(minutes(60, (m) => ({ engineLoadPct: loadPct(m), scrInletTempC: 380 + (m % 7) / 32 })))).toEqual(
      [],
    );
  });

  it('are not stuck when they step with the load and then stand', () => {
    const phases = [
      ...minutes(40, () => ({ engineLoadPct: 72, exhaustTempC: 391 })),
      ...minutes(75, () => ({ engineLoadPct: 9, exhaustTempC: 138 })),
      ...minutes(40, () => ({ engineLoadPct: 72, exhaustTempC: 391 })),
    ];
    // By segments as they stand; the recordings of the kit tremble where they are long.
    expect(suspects(phases)).toEqual([]);
  });

  it('two that stick in the same minute are two findings', () => {
    const both = minutes(40, (m) => ({ engineLoadPct: loadPct(m), scrInletTempC: 380, dpfOutletTempC: 390 }));
    expect(suspects(both)).toHaveLength(2);
  });

  it('are suspect when cold on an engine that has run under load for 20 min', () => {
    expect(suspects(minutes(60, (m) => ({ engineLoadPct: 75, exhaustTempC: 30 + (m % 3) })))).toEqual([
      ['exhaustTempC', 'cold-while-running', true],
    ]);
    expect(suspects(minutes(18, (m) => ({ engineLoadPct: 75, exhaustTempC: 30 + (m % 3) })))).toEqual([]);
    expect(suspects(minutes(60, (m) => ({ engineLoadPct: 75, exhaustTempC: 130 + (m % 3) })))).toEqual([]);
  });

  it('are suspect when the SCR inlet is colder than its outlet for a quarter of an hour of work', () => {
    const pair = (count: number, inC: number, outC: number, load = 75) =>
      minutes(count, (m) => ({ engineLoadPct: load, scrInletTempC: inC + (m % 5), scrOutletTempC: outC + (m % 4) }));
    expect(suspects(pair(30, 330, 390))).toEqual([['scrInletTempC', 'colder-than-scr-outlet', true]]);
    expect(suspects([...pair(30, 330, 390), ...pair(40, 390, 380)])).toEqual([
      ['scrInletTempC', 'colder-than-scr-outlet', false],
    ]);
    // A brick that cools behind a cold gas is right to be the warmer one.
    expect(suspects(pair(60, 200, 300, 12))).toEqual([]);
    expect(suspects(pair(10, 330, 390))).toEqual([]);
  });

  it('are suspect when the turbine outlet is colder than the SCR inlet, but not while it regenerates', () => {
    const pair = (more: Segment['values']) =>
      minutes(40, (m) => ({
        engineLoadPct: 75,
        turbineOutTempC: 300 + (m % 5),
        scrInletTempC: 380 + (m % 4),
        ...more,
      }));
    expect(suspects(pair({}))).toEqual([['turbineOutTempC', 'colder-than-scr-inlet', true]]);
    expect(suspects(pair({ activeRegenState: 1 }))).toEqual([]);
    expect(suspects(pair({ scrInletTempC: 520 }))).toEqual([]);
  });
});

describe('neighbours over hours', () => {
  const train = (count: number, at: (minute: number) => Segment['values']) =>
    minutes(count, (m) => ({
      engineLoadPct: 75,
      exhaustTempC: 380,
      turbineOutTempC: 400,
      scrInletTempC: 380,
      ...at(m),
    }));
  const wave = (m: number) => 8 * Math.sin(m / 3);

  it('find the sensor of three that left both others, and the end of it', () => {
    const straight = (m: number) => ({
      exhaustTempC: 380 + wave(m),
      turbineOutTempC: 400 + wave(m + 1),
      scrInletTempC: 378 + wave(m - 1),
    });
    expect(suspects(train(900, straight))).toEqual([]);
    const drift = (channel: 'exhaustTempC' | 'turbineOutTempC' | 'scrInletTempC') =>
      suspects([
        ...train(300, straight),
        ...train(600, (m) => ({ ...straight(m), [channel]: (straight(m)[channel] as number) + m / 6 })),
      ]).filter(([, why]) => why === 'drifting');
    expect(drift('exhaustTempC')).toEqual([['exhaustTempC', 'drifting', true]]);
    expect(drift('turbineOutTempC')).toEqual([['turbineOutTempC', 'drifting', true]]);
    expect(drift('scrInletTempC')).toEqual([['scrInletTempC', 'drifting', true]]);
    // Two that drift one after the other are two, even the same way.
    const both = [
      ...train(300, straight),
      ...train(400, (m) => ({ ...straight(m), exhaustTempC: (straight(m).exhaustTempC as number) + m / 4 })),
      ...train(500, (m) => ({
        ...straight(m),
        exhaustTempC: (straight(m).exhaustTempC as number) + 100 + m / 4,
        turbineOutTempC: (straight(m).turbineOutTempC as number) + m / 4,
      })),
    ];
    expect(suspects(both).filter(([, why]) => why === 'drifting')).toEqual([
      ['exhaustTempC', 'drifting', true],
      ['turbineOutTempC', 'drifting', true],
    ]);
    const mended = [
      ...train(300, straight),
      ...train(300, (m) => ({ ...straight(m), exhaustTempC: 380 + wave(m) + m / 3 })),
      ...train(200, straight),
    ];
    expect(suspects(mended).filter(([, why]) => why === 'drifting')).toEqual([['exhaustTempC', 'drifting', false]]);
  });

  it('find swapped SCR sensors by which of them is behind the other', () => {
    const ahead = (m: number) => 320 + 60 * Math.sin(m / 8);
    const behind = (m: number) => 320 + 50 * Math.sin((m - 4) / 8);
    const right = train(300, (m) => ({ scrInletTempC: ahead(m), scrOutletTempC: behind(m), exhaustTempC: ahead(m) }));
    const swapped = train(300, (m) => ({
      scrInletTempC: behind(m),
      scrOutletTempC: ahead(m),
      exhaustTempC: behind(m),
    }));
    const lags = (segments: Segment[]) => suspects(segments).filter(([, why]) => why === 'lags-behind-scr-outlet');
    expect(lags(right)).toEqual([]);
    expect(lags(swapped)).toEqual([['scrInletTempC', 'lags-behind-scr-outlet', true]]);
    expect(lags([...swapped, ...right])).toEqual([['scrInletTempC', 'lags-behind-scr-outlet', false]]);
  });
});
