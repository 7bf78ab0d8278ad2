import { histogramBinC } from '@warmbrick/analysis';
import { sliceBlock } from '@warmbrick/signals';
import { idle, off, recordingOf, silence, work } from '@warmbrick/testkit';
import { describe, expect, it } from 'vitest';
import { analyse } from './analyse.js';

describe('window residency', () => {
  it('splits running time at 350 and 450 C (common practice) and at dosing release', () => {
    const { residency } = analyse(
      recordingOf([off(100), idle(200, 150), work(300, 349), work(400, 350), work(500, 450), work(600, 451), off(101)]),
    ).summary;
    expect(residency).toMatchObject({
      runningS: 2000,
      belowReleaseS: 200,
      belowS: 500,
      inS: 900,
      aboveS: 600,
      offS: 200,
      idleS: 200,
      workingS: 1800,
    });
  });

  it('keeps its books: running is below + in + above + without temperature, and idle + light + working', () => {
    const { rows, summary } = analyse(
      recordingOf([
        off(1000),
        idle(2000),
        { forS: 1500, values: { engineSpeedRpm: 1500, engineLoadPct: 30 } },
        work(3000),
        silence(1500),
        work(500),
        off(10),
      ]),
    );
    for (const figures of [summary.residency, ...rows]) {
      const { runningS, belowS, inS, aboveS, noTemperatureS, idleS, lightS, workingS } = figures;
      expect(belowS + inS + aboveS + noTemperatureS).toBeCloseTo(runningS, 6);
      expect(idleS + lightS + workingS).toBeCloseTo(runningS, 6);
    }
    for (const name of ['runningS', 'offS', 'unobservedS', 'idleS', 'inS'] as const) {
      expect(rows.reduce((sum, row) => sum + row[name], 0)).toBeCloseTo(summary.residency[name], 6);
    }
    expect(summary.residency.noTemperatureS).toBe(1500);
    expect(summary.residency.unobservedS).toBe(1441);
  });

  it('fills every quarter hour exactly, across samples that reach over its end', () => {
    const { rows } = analyse(recordingOf([idle(4000)], { stepS: 7 }));
    expect(rows.map((row) => row.runningS)).toEqual([900, 900, 900, 900, 3997 - 3600]);
  });

  it('counts the histogram only while the engine runs', () => {
    const { histogramS } = analyse(recordingOf([off(500), idle(300, 145), work(200, 395), off(10)])).summary;
    expect(histogramS[Math.floor(145 / histogramBinC)]).toBe(300);
    expect(histogramS[Math.floor(395 / histogramBinC)]).toBe(200);
    expect(histogramS.reduce((a, b) => a + b, 0)).toBe(500);
  });

  it('reports gaps as coverage and never fills them', () => {
    const { summary, of } = analyse(recordingOf([work(1000), silence(1000), work(1001)]));
    // The sample before the gap holds 60 s of its 1001 s.
    expect(summary.residency.unobservedS).toBe(941);
    expect(summary.residency.runningS).toBe(3000 - 941);
    expect(summary.observed.coverageRatio).toBeCloseTo(1 - 941 / 3000, 4);
    expect(of('data-gap')[0]?.values.durationS).toBe(1001);
  });

  it('judges the window by the best exhaust temperature there is, and says which', () => {
    const running = { engineSpeedRpm: 1700, engineLoadPct: 75 };
    const { summary } = analyse(
      recordingOf([
        { forS: 100, values: { ...running, turbineOutTempC: 500 } },
        { forS: 200, values: { ...running, turbineOutTempC: 500, docInletTempC: 480 } },
        { forS: 300, values: { ...running, turbineOutTempC: 500, dpfInletTempC: 400, docInletTempC: 480 } },
        { forS: 400, values: { ...running, dpfInletTempC: 400, scrInletTempC: 300 } },
        { forS: 501, values: { ...running, exhaustTempC: 360, scrInletTempC: 300 } },
      ]),
    );
    expect(summary.exhaustSourceS).toEqual({
      turbineOutTempC: 100,
      docInletTempC: 200,
      dpfInletTempC: 300,
      scrInletTempC: 400,
      exhaustTempC: 500,
    });
    expect(summary.residency).toMatchObject({ aboveS: 300, inS: 800, belowS: 400 });
  });

  it('takes the window from the catalyst family unless the profile has its own', () => {
    const recording = recordingOf([work(1001, 300)]);
    expect(analyse(recording).summary.residency.belowS).toBe(1000);
    expect(analyse(recording, { catalystFamily: 'copper-zeolite' }).summary.residency.inS).toBe(1000);
    const own = analyse(recording, { catalystFamily: 'copper-zeolite', window: { lowC: 310, highC: 420 } });
    expect(own.summary.residency.belowS).toBe(1000);
  });
});

describe('pinned counterexamples', () => {
  it('puts a sample that holds nothing, on the very start of a row, into that row wherever the block is cut', () => {
    const recording = recordingOf([work(901, 380), silence(100), off(60)]);
    const pieces = [sliceBlock(recording, 0, 900), sliceBlock(recording, 900, 901), sliceBlock(recording, 901, 961)];
    expect(analyse(pieces).rows).toEqual(analyse(recording).rows);
  });
});
