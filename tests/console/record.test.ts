import {
  exhaustChannels,
  mainExhaustChannel,
  panelChoices,
  panelKeys,
  panelQuery,
  plotColumns,
  rangeAround,
  rangeFromQuery,
  rangeToQuery,
  shiftRange,
  zoomRange,
} from '@warmbrick/console';
import type { SampleSeries } from '@warmbrick/contracts';
import { channels, exhaustSourceOrder } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const day = { fromMs: Date.parse('2026-03-16T12:00:00Z'), toMs: Date.parse('2026-03-17T12:00:00Z') };

describe('the range in the address', () => {
  it('survives being written and read', () => {
    const minute = fc.integer({ min: 0, max: 40_000 });
    fc.assert(
      fc.property(minute, minute, (start, length) => {
        const range = { fromMs: start * 60_000, toMs: (start + length + 1) * 60_000 };
        const { from, to } = rangeToQuery(range);
        expect(rangeFromQuery(from, to)).toEqual(range);
      }),
    );
  });

  it('is null for nonsense', () => {
    expect(rangeFromQuery('yesterday', 'today')).toBe(null);
    expect(rangeFromQuery(null, '2026-03-17T12:00:00Z')).toBe(null);
    expect(rangeFromQuery('2026-03-17T12:00:00Z', '2026-03-17T12:00:00Z')).toBe(null);
  });

  it('zooms about its middle, moves by its length and stays between a minute and 31 days', () => {
    expect(zoomRange(day, 0.5)).toEqual({ fromMs: day.fromMs + 21_600_000, toMs: day.toMs - 21_600_000 });
    expect(shiftRange(day, -0.5)).toEqual({ fromMs: day.fromMs - 43_200_000, toMs: day.toMs - 43_200_000 });
    const least = zoomRange(day, 1e-9);
    expect(least.toMs - least.fromMs).toBe(60_000);
    const most = zoomRange(day, 1e9);
    expect(most.toMs - most.fromMs).toBe(31 * 86_400_000);
    expect(rangeAround(day.fromMs, day.fromMs)).toEqual({ fromMs: day.fromMs - 300_000, toMs: day.fromMs + 300_000 });
  });
});

describe('columns for the plot', () => {
  const series: SampleSeries = {
    from: '2026-03-17T00:00:00.000Z',
    to: '2026-03-17T01:00:00.000Z',
    bucketS: 60,
    startedAt: ['2026-03-17T00:00:00.000Z', '2026-03-17T00:01:00.000Z', '2026-03-17T00:10:00.000Z'],
    channels: { exhaustTempC: { unit: 'degC', min: [90, 100, null], mean: [100, 110, null], max: [110, 120, null] } },
  };

  it('keep gaps open and convert', () => {
    const columns = plotColumns(series, 'exhaustTempC', (tempC) => tempC * 1.8 + 32);
    const startS = Date.parse('2026-03-17T00:00:00Z') / 1000;
    expect(columns.timeS).toEqual([startS, startS + 60, startS + 120, startS + 600]);
    expect(columns.mean).toEqual([212, 230, null, null]);
    expect(columns.max).toEqual([230, 248, null, null]);
  });

  it('are empty for a channel that was not sent, and leave the series alone', () => {
    const before = JSON.stringify(series);
    expect(plotColumns(series, 'noxOutPpm', (value) => value).mean).toEqual([null, null, null, null]);
    expect(JSON.stringify(series)).toBe(before);
  });
});

describe('panels', () => {
  it('name channels of the catalogue in its units, and the exhaust sources in its order', () => {
    expect(exhaustChannels).toEqual(exhaustSourceOrder);
    for (const panel of panelChoices) expect(channels[panel.channel].unit).toBe(panel.unit);
  });

  it('are read from the address and written to it', () => {
    expect(panelKeys(null)).toEqual(['load', 'rpm']);
    expect(panelKeys('none')).toEqual([]);
    expect(panelKeys('fuel,load,bogus')).toEqual(['load', 'fuel']);
    expect(panelQuery(['rpm', 'load'])).toBe(null);
    expect(panelQuery([])).toBe('none');
    expect(panelQuery(['load', 'fuel'])).toBe('load,fuel');
  });

  it('take the exhaust temperature from the channel that stood for it longest', () => {
    expect(mainExhaustChannel({ turbineOutTempC: 10, scrInletTempC: 500 })).toBe('scrInletTempC');
    expect(mainExhaustChannel({})).toBe('exhaustTempC');
  });
});
