import {
  evidenceWords,
  formatDuration,
  formatHours,
  formatNumber,
  formatQuantity,
  freshness,
  modeWords,
  riskBand,
  silentAfterMs,
  valueWords,
  viewUnit,
} from '@warmbrick/console';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const plain = (text: string) => text.replace(/\u00a0/g, ' ');

describe('lengths of time', () => {
  it.each([
    [0, '0 s'],
    [45.4, '45 s'],
    [59.6, '1 min'],
    [720, '12 min'],
    [3599, '1 h'],
    [4320, '1 h 12 min'],
    [86_399, '1 d'],
    [97_200, '1 d 3 h'],
    [-1, 'unknown'],
    [Number.NaN, 'unknown'],
  ])('%d s is "%s"', (lengthS, words) => {
    expect(plain(formatDuration(lengthS))).toBe(words);
  });

  it('never shows 60 minutes or 24 hours', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1e8, noNaN: true }), (lengthS) => {
        expect(plain(formatDuration(lengthS))).not.toMatch(/\b60 (s|min)|\b24 h/);
      }),
    );
  });

  it('keeps hours and minutes in columns', () => {
    expect(plain(formatHours(14_700))).toBe('4 h 05');
    expect(plain(formatHours(0))).toBe('0 h 00');
    expect(formatHours(Number.NaN)).toBe('–');
  });
});

describe('units', () => {
  // Source: 350 and 450 C are 662 and 842 F by definition (NIST SP 811, B.8: t/F = 1.8 t/C + 32).
  it('converts temperatures', () => {
    expect(plain(formatQuantity(350, 'degC', 'imperial'))).toBe('662 °F');
    expect(plain(formatQuantity(450, 'degC', 'imperial'))).toBe('842 °F');
    expect(plain(formatQuantity(-40, 'degC', 'imperial'))).toBe('−40 °F');
  });

  it('converts a difference without the offset', () => {
    expect(plain(formatQuantity(10, 'K', 'imperial'))).toBe('18 °F');
  });

  // Source: NIST SP 811 (2008), B.8: 1 gallon (US liquid) = 3.785 411 784 L exactly.
  it('converts volumes to US gallons', () => {
    expect(viewUnit('L', 'imperial').convert(3.785411784)).toBeCloseTo(1, 12);
    expect(plain(formatQuantity(300, 'L', 'imperial'))).toBe('79.3 gal');
  });

  // Source: NIST SP 811 (2008), B.8: 1 mile = 1.609 344 km exactly.
  it('converts travel speed', () => {
    expect(viewUnit('km/h', 'imperial').convert(1.609344)).toBeCloseTo(1, 12);
  });

  it('leaves everything metric alone, and says when there is no reading', () => {
    expect(plain(formatQuantity(350, 'degC', 'metric'))).toBe('350 °C');
    expect(plain(formatQuantity(12.34, '%', 'imperial'))).toBe('12.3 %');
    expect(formatQuantity(null, 'degC', 'metric')).toBe('no reading');
    expect(formatQuantity(Number.NaN, 'degC', 'metric')).toBe('no reading');
  });

  it('shows no negative zero', () => {
    expect(formatNumber(-0.001)).toBe('0');
    expect(formatNumber(0.256)).toBe('0.26');
  });
});

describe('freshness', () => {
  const nowMs = Date.parse('2026-03-17T13:20:00Z');
  it('says how long ago while it is fresh', () => {
    expect(plain(freshness(nowMs - 3000, nowMs, 'UTC').words)).toBe('last sample 3 s ago');
    expect(freshness(nowMs - silentAfterMs, nowMs, 'UTC').isSilent).toBe(false);
    expect(freshness(nowMs + 5000, nowMs, 'UTC').isSilent).toBe(false);
  });

  it('says since when once it is silent, with the day when that is another', () => {
    expect(freshness(nowMs - silentAfterMs - 1, nowMs, 'UTC')).toEqual({ isSilent: true, words: 'silent since 13:17' });
    expect(freshness(nowMs - 90_000_000, nowMs, 'UTC').words).toBe('silent since 16 Mar 12:20');
    expect(freshness(nowMs - 3_600_000, nowMs, 'Europe/Oslo').words).toBe('silent since 13:20');
    expect(freshness(Number.NaN, nowMs, 'UTC').isSilent).toBe(true);
  });

  it('never calls old data live, whatever its age', () => {
    fc.assert(
      fc.property(fc.integer({ min: silentAfterMs + 1, max: 10 ** 11 }), (ageMs) => {
        const { isSilent, words } = freshness(nowMs - ageMs, nowMs, 'America/Denver');
        expect(isSilent && words.startsWith('silent since')).toBe(true);
      }),
    );
  });

  it('speaks of a silent machine in the past', () => {
    expect(modeWords('working', false)).toBe('working');
    expect(modeWords('working', true)).toBe('was working');
    expect(modeWords('off', true)).toBe('was off');
    expect(modeWords('unobserved', true)).toBe('not observed');
  });
});

describe('scores', () => {
  it('has bands and says what a score stands on', () => {
    expect([0, 29.9, 30, 59.9, 60, 100].map(riskBand)).toEqual(['low', 'low', 'watch', 'watch', 'risk', 'risk']);
    expect(evidenceWords(0.49)).toEqual({ words: 'little evidence', isLittle: true });
    expect(evidenceWords(0.5).isLittle).toBe(false);
    expect(evidenceWords(0.8).words).toBe('good evidence');
  });
});

describe('named figures', () => {
  const view = { units: 'metric', timeZone: 'UTC', nowMs: Date.parse('2026-03-17T13:20:00Z') } as const;
  it.each([
    ['cooldownS', 40, 'cooldown', '40 s'],
    ['metalTempC', 322, 'metal temp', '322 °C'],
    ['meanLoadPct', 9.44, 'mean load', '9.4 %'],
    ['coverageRatio', 0.985, 'coverage', '98.5 %'],
    ['fuelL', 3.1, 'fuel', '3.1 L'],
    ['meanRpm', 948, 'mean', '948 rpm'],
    ['noxOutPpm', 41, 'NOx out', '41 ppm'],
    ['dpfDeltaPressureKPa', 3.2, 'DPF delta pressure', '3.2 kPa'],
    ['seenMs', Date.parse('2026-03-16T10:00:00Z'), 'seen', '16 Mar 10:00'],
    ['starts', 3, 'starts', '3'],
    ['isInferred', true, 'is inferred', 'yes'],
    ['temperatureSource', 'turbineOutTempC', 'temperature source', 'turbineOutTempC'],
    ['coolantTempC', null, 'coolant temp', 'not known'],
  ])('%s: %s is "%s", "%s"', (name, value, label, text) => {
    const words = valueWords(name, value, view);
    expect(words.label).toBe(label);
    expect(plain(words.text)).toBe(text);
  });
});
