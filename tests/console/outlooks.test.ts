import { sensorName } from '@warmbrick/analysis';
import { defWords, figureValue, standingWords, suspectWords } from '@warmbrick/console';
import type { MachineDetail } from '@warmbrick/contracts';
import { describe, expect, it } from 'vitest';

type Def = NonNullable<MachineDetail['def']>;

const def = (change: Partial<Def> = {}): Def => ({
  levelPct: 62.3,
  tankL: 40,
  limitPct: 10,
  learnedHours: 12,
  useLPerH: 0.9,
  spreadLPerH: 0.2,
  usedBy: 'dosing',
  hoursToLimit: 23.2,
  hoursToLimitLow: 19.4,
  hoursToLimitHigh: 28.1,
  tankTempC: 4,
  ambientTempC: -2,
  overnight: 'no-frost',
  marginK: 3,
  ...change,
});
const plain = (text: string | null) => (text ?? '').replace(/\u00a0/g, ' ');
const words = (change: Partial<Def>, units: 'metric' | 'imperial' = 'metric') => defWords(def(change), units);

describe('the DEF tank in words', () => {
  it('says the level, how long it lasts with its range, and how that is known', () => {
    expect(plain(words({}).level)).toBe('62 % of 40 L');
    expect(plain(words({}).lasting)).toBe(
      'Down to 10 % in about 23 engine hours (19 to 29 in nine of ten cases), when nothing is filled.',
    );
    expect(plain(words({}).basis)).toBe('It uses 0.9 L/h, by the dosing it sends, over its last 12 engine hours.');
    // A US gallon is 3.785412 L (NIST SP 811, B.8).
    expect(plain(words({}, 'imperial').level)).toBe('62 % of 10.6 gal');
  });

  it('does not promise what was not learned, nor an end that cannot be told', () => {
    const early = { useLPerH: null, hoursToLimit: null, hoursToLimitLow: null, hoursToLimitHigh: null };
    expect(words(early).lasting).toContain('cannot be told yet');
    expect(words(early).basis).toBe('');
    expect(words({ hoursToLimitHigh: null }).lasting).not.toContain('nine of ten');
    expect(plain(words({ levelPct: 9 }).lasting)).toMatch(/^Low: at or under 10 %/);
  });

  it('advises for the night only when frost threatens', () => {
    expect(words({}).overnight).toBeNull();
    const frosty = (overnight: Def['overnight']) => plain(words({ ambientTempC: -9, overnight }).overnight);
    expect(frosty('burst-risk')).toMatch(/night of −12 °C .*too full.*burst/);
    expect(frosty('fuller-than-needed')).toContain('About a quarter full thaws sooner');
    expect(frosty('too-low')).toContain('leave about a quarter');
    expect(frosty('about-a-quarter')).toContain('as it should be');
    expect(plain(words({ tankTempC: null, ambientTempC: null, overnight: 'unknown' }).overnight)).toContain(
      'not known',
    );
  });
});

describe('the place beside machines alike', () => {
  const figure = { name: 'idle-share', value: 0.41, groupSize: 9, groupMedian: 0.2, lowerQuartile: 0.1 } as const;
  const rest = { upperQuartile: 0.3, percentile: 94.4, change: null } as const;

  it('is told in shares of the like, and as standing out only when it does', () => {
    expect(plain(standingWords({ ...figure, ...rest, standing: 'high' }))).toBe('above 94 % of 9; stands out high');
    expect(plain(standingWords({ ...figure, ...rest, standing: 'usual' }))).toBe('above 94 % of 9');
    expect(standingWords({ ...figure, ...rest, groupSize: 3, standing: 'too-few' })).toContain('too few to compare');
  });

  it('shows each figure in its unit, and none where too little was seen', () => {
    expect(plain(figureValue('idle-share', 0.414, 'metric'))).toBe('41 %');
    expect(plain(figureValue('fuel-l-per-h', 12.34, 'metric'))).toBe('12.3 L/h');
    expect(figureValue('long-idles-per-day', 0.43, 'metric')).toBe('0.43');
    expect(figureValue('idle-share', null, 'metric')).toBe('too little seen');
  });
});

describe('suspect sensors', () => {
  it('have the names that the analysis has for them', () => {
    const channels = ['exhaustTempC', 'turbineOutTempC', 'docInletTempC', 'dpfInletTempC', 'dpfOutletTempC'];
    for (const channel of [...channels, 'scrInletTempC', 'scrOutletTempC', 'coolantTempC']) {
      expect(sensorName(channel)).not.toBe(channel);
      expect(suspectWords([channel])).toContain(`: ${sensorName(channel)}.`);
    }
  });

  it('are named for people, and not mentioned when there are none', () => {
    expect(suspectWords([])).toBeNull();
    expect(suspectWords(['scrInletTempC', 'oilTempC'])).toBe(
      'Not believed at present: temperature before the SCR catalyst, oilTempC. What hangs on it is left out or taken from another sensor; see the findings.',
    );
  });
});
