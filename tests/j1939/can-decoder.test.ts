import { createCanDecoder, repeatFaultsMs } from '@warmbrick/j1939';
import type { ChannelName, SampleBlock } from '@warmbrick/signals';
import { describe, expect, it } from 'vitest';
import { broadcastFrames, bytes, pushText } from './frames.js';

const speed700 = '0CF00400#FF7D7DE015FFF0FF';
const speed649 = '0CF00400#207D87481400F087';
const speedError = '0CF00400#FFFFFF00FEFFFFFF';
/** A frame that nobody wants: an address claim. It shows only that the bus is alive. */
const other = '18EEFF00#0000000000000000';

describe('grid', () => {
  it('gives a value the tick at or after it and nothing earlier', () => {
    expect(
      decode([
        [1000, speed700],
        [1001, speed649],
      ]).times,
    ).toEqual([1000, 2000]);
    expect(
      decode([
        [1000, speed700],
        [1001, speed649],
      ]).engineSpeedRpm,
    ).toEqual([700, 649]);
  });

  it('holds a value for the time of its channel while the bus is alive', () => {
    // Engine speed holds 5 s: received at 100, it is good for ticks in [100, 5100).
    const frames = Array.from({ length: 8 }, (_, i): [number, string] => [i * 1000 + 200, other]);
    expect(decode([[100, speed700], ...frames]).times).toEqual([1000, 2000, 3000, 4000, 5000]);
  });

  it('makes no sample while the bus is silent', () => {
    expect(
      decode([
        [100, speed700],
        [3500, other],
      ]).times,
    ).toEqual([1000, 4000]);
    expect(
      decode([
        [100, speed700],
        [86_400_500, speed700],
      ]).times,
    ).toEqual([1000, 86_401_000]);
  });

  it('makes no sample without a usable value', () => {
    expect(
      decode([
        [100, other],
        [1100, speedError],
      ]).times,
    ).toEqual([]);
  });

  it('takes a value away as soon as the source reports an error', () => {
    expect(
      decode([
        [100, speed700],
        [1100, speedError],
        [2100, speed649],
      ]).engineSpeedRpm,
    ).toEqual([700, 649]);
  });

  it('follows gridMs', () => {
    const decoder = createCanDecoder({ machineId: 'm1', gridMs: 100 });
    for (const timeMs of [10, 110, 210]) pushText(decoder, timeMs, speed700);
    decoder.finish();
    expect([...(decoder.takeBlock()?.timeMs ?? [])]).toEqual([100, 200, 300]);
  });

  it.each([0, -1, 1.5, Number.NaN, 3_600_001])('refuses a grid of %s ms', (gridMs) => {
    expect(() => createCanDecoder({ machineId: 'm1', gridMs })).toThrow(/gridMs is .*expected a whole number/);
  });

  it('keeps a total for an hour', () => {
    const hours = '18FEE500#DF5D02004D550000';
    const result = decode([
      [0, hours],
      [3_598_500, speed700],
      [3_599_500, speed700],
    ]);
    expect(result.times).toEqual([0, 3_599_000, 3_600_000]);
    expect(result.engineHours.map((value) => Math.round(value * 100) / 100)).toEqual([7755.15, 7755.15, Number.NaN]);
  });
});

describe('order of frames', () => {
  it('lets an older frame of the open tick fill in but not overwrite', () => {
    const oldCoolant = '18FEEE00#5CFF9227FFFFFFFF';
    const result = decode([
      [900, speed700],
      [500, speed649],
      [400, oldCoolant],
    ]);
    expect(result.engineSpeedRpm).toEqual([700]);
    expect(result.coolantTempC).toEqual([52]);
  });

  it.each([Number.NaN, Number.POSITIVE_INFINITY, -1e300, 8.65e15])('drops and counts a frame at %s', (timeMs) => {
    const decoder = createCanDecoder({ machineId: 'm1' });
    pushText(decoder, timeMs, speed700);
    decoder.finish();
    expect([decoder.lateFrames, decoder.takeBlock()]).toEqual([1, null]);
  });

  it('drops and counts a frame whose tick is finished, or without a time', () => {
    const decoder = createCanDecoder({ machineId: 'm1' });
    pushText(decoder, 500, speed700);
    pushText(decoder, 1500, speed700);
    pushText(decoder, 1000, speed649);
    pushText(decoder, Number.NaN, speed649);
    decoder.finish();
    pushText(decoder, 1700, speed649);
    expect([decoder.frames, decoder.lateFrames]).toEqual([5, 3]);
    expect([...(decoder.takeBlock()?.channels.engineSpeedRpm ?? [])]).toEqual([700, 700]);
    expect(decoder.takeBlock()).toBeNull();
  });
});

describe('sources', () => {
  const inlet = (address: string, raw: string) => `18FDB4${address}#${raw}FFFFFFFFFFFF`;

  it('prefers the engine, then 61, 85, 163, 81, 82, then the rest', () => {
    // 4000h and up, in steps of 1 degC (20h), in falling preference.
    const ranked = ['00', '3D', '55', 'A3', '51', '52', '03', 'F9'];
    for (let from = 0; from < ranked.length; from++) {
      const sent = ranked
        .slice(from)
        .map((address, i) => inlet(address, `${((from + i) * 32).toString(16).padStart(2, '0')}40`));
      const result = decode([...sent].reverse().map((text, i) => [100 + i, text]));
      expect(result.docInletTempC, `from ${ranked[from]}`).toEqual([239 + from]);
    }
  });

  it('falls back to another address when the preferred one is not available or stale', () => {
    expect(
      decode([
        [100, inlet('00', 'FFFF')],
        [101, inlet('55', '0040')],
      ]).docInletTempC,
    ).toEqual([239]);
    const stale = decode([[100, inlet('00', '2040')], ...every(1000, 6, inlet('55', '0040'))]);
    expect(stale.docInletTempC).toEqual([240, 240, 240, 240, 240, 239]);
  });

  it('takes the first parameter of a channel that has a value', () => {
    const direct = '18FD2000#00410000FFFFFFFF';
    const general = inlet('00', '0040');
    expect(
      decode([
        [100, direct],
        [101, general],
      ]).docInletTempC,
    ).toEqual([247]);
    expect(
      decode([
        [100, direct.replace('0041', 'FFFF')],
        [101, general],
      ]).docInletTempC,
    ).toEqual([239]);
  });
});

describe('placeholders that are no measurement', () => {
  const nox = (payload: string) =>
    decode([
      [100, `18F00F00#${payload}`],
      [101, speed700],
    ]);

  it.each([
    ['sensor at temperature and stable', '180FFFFF15FFFFFF', [-6.8], undefined],
    ['bits not sent by this controller', '821639C4FFFFFFFF', [88.1], undefined],
    ['not at temperature', '821639C411FFFFFF', undefined, { 'not-available': 1 }],
    ['not stable', '821639C405FFFFFF', undefined, { 'not-available': 1 }],
    ['stability bit in error', '821639C425FFFFFF', undefined, { error: 1 }],
    ['3012.75 ppm, the sensor is off', 'FFFAFFFFFFFFFFFF', undefined, { sentinel: 1 }],
    ['-200 ppm', '0000FFFFFFFFFFFF', undefined, { sentinel: 1 }],
    ['reserved', '00FCFFFFFFFFFFFF', undefined, { reserved: 1 }],
    ['parameter-specific', '00FBFFFFFFFFFFFF', undefined, { reserved: 1 }],
  ])('NOx: %s', (_, payload, expected, unusable) => {
    const result = nox(payload);
    expect(result.noxOutPpm?.map((value) => Math.round(value * 10) / 10)).toEqual(expected);
    expect(result.unusable.noxOutPpm).toEqual(unusable);
  });

  it.each([
    ['exhaust 0.000 degC', '18FD3E00#2022FFFFFFFFFFFF', 'scrInletTempC'],
    ['exhaust -25.0 degC', '18FD3E00#001FFFFFFFFFFFFF', 'scrInletTempC'],
    ['exhaust -64.906 degC', '18FD3E00#031AFFFFFFFFFFFF', 'scrInletTempC'],
    ['exhaust -273 degC', '18FD3E00#0000FFFFFFFFFFFF', 'scrInletTempC'],
    ['coolant -40 degC', '18FEEE00#00FFFFFFFFFFFFFF', 'coolantTempC'],
    ['torque -125 %', '0CF00400#FFFF00FFFFFFFFFF', 'actualTorquePct'],
  ] as const)('%s', (_, text, channel) => {
    const result = decode([[100, text]]);
    expect(result.times).toEqual([]);
    expect(result.unusable[channel]).toEqual({ sentinel: 1 });
  });

  it('counts a value outside the range of its channel as implausible', () => {
    // 1735 degC.
    const result = decode([[100, '18FD3E00#00FAFFFFFFFFFFFF']]);
    expect(result.times).toEqual([]);
    expect(result.unusable.scrInletTempC).toEqual({ implausible: 1 });
  });

  it('takes an engine load of 127 % as data', () => {
    expect(decode([[100, '0CF00300#FFFF7FFFFFFFFFFF']]).engineLoadPct).toEqual([127]);
  });
});

describe('fault reports', () => {
  const dm1 = '18FECA00#40FF5B000301FFFF';

  it('tells active from previously active, and controllers apart', () => {
    const reports = faults([
      [10, dm1],
      [20, '18FECB00#00FF5B000301FFFF'],
      [30.2, '18FECA03#00FF00000000FFFF'],
    ]);
    expect(reports).toMatchObject([
      { machineId: 'm1', timeMs: 10, sourceAddress: 0, kind: 'active', codes: [{ spn: 91, fmi: 3 }] },
      { timeMs: 20, sourceAddress: 0, kind: 'previously-active', codes: [{ spn: 91 }] },
      { timeMs: 31, sourceAddress: 3, kind: 'active', codes: [] },
    ]);
  });

  it('repeats an unchanged list only after the repeat time', () => {
    expect(faults(every(1000, 61, dm1)).map((report) => report.timeMs)).toEqual([1000, 1000 + repeatFaultsMs]);
  });

  it.each([
    ['the list', '18FECA00#40FF5B000401FFFF'],
    ['a lamp', '18FECA00#44FF5B000301FFFF'],
    ['the flash byte', '18FECA00#40005B000301FFFF'],
  ])('reports a change of %s at once', (_, changed) => {
    expect(
      faults([
        [1000, dm1],
        [2000, dm1],
        [3000, changed],
        [4000, dm1],
      ]).map((report) => report.timeMs),
    ).toEqual([1000, 3000, 4000]);
  });

  it('hears the same message on two buses once', () => {
    const decoder = createCanDecoder({ machineId: 'm1' });
    pushText(decoder, 10, dm1, 'can0');
    pushText(decoder, 11, dm1, 'can1');
    expect(decoder.takeFaults()).toHaveLength(1);
    expect(decoder.takeFaults()).toEqual([]);
  });

  it('takes long lists by transport protocol and counts those that do not arrive', () => {
    const payload = bytes(`40FF${'5B000301'.repeat(47)}`);
    const decoder = createCanDecoder({ machineId: 'm1' });
    const frames = [...broadcastFrames(0, 65226, payload), ...broadcastFrames(3, 65226, payload).slice(0, -1)];
    for (const [i, { id, payload: data }] of frames.entries()) decoder.push(i, 'can0', id, data, data.length);
    decoder.finish();
    const reports = decoder.takeFaults();
    expect(reports.map((report) => [report.sourceAddress, report.codes.length])).toEqual([[0, 47]]);
    expect(decoder.incompleteTransfers).toBe(1);
  });

  it('is not moved by an empty payload', () => {
    expect(
      faults([
        [10, '18FECA00#'],
        [20, '18FECA00#40'],
      ]),
    ).toEqual([]);
  });
});

type Decoded = { readonly times: number[]; readonly unusable: Record<string, unknown> } & Record<ChannelName, number[]>;

/** Decodes to the end; channels that were not sent are undefined. */
function decode(frames: readonly (readonly [timeMs: number, text: string])[]): Decoded {
  const decoder = createCanDecoder({ machineId: 'm1' });
  for (const [timeMs, text] of frames) pushText(decoder, timeMs, text);
  decoder.finish();
  const block: SampleBlock | null = decoder.takeBlock();
  const columns = Object.entries(block?.channels ?? {}).map(([name, column]) => [name, [...column]]);
  return { ...Object.fromEntries(columns), times: [...(block?.timeMs ?? [])], unusable: decoder.unusable } as Decoded;
}

function faults(frames: readonly (readonly [timeMs: number, text: string])[]) {
  const decoder = createCanDecoder({ machineId: 'm1' });
  for (const [timeMs, text] of frames) pushText(decoder, timeMs, text);
  return decoder.takeFaults();
}

function every(stepMs: number, count: number, text: string): [number, string][] {
  return Array.from({ length: count }, (_, i) => [(i + 1) * stepMs, text]);
}
