import { cleanRatio as analysisCleanRatio, scoreParts } from '@warmbrick/analysis';
import {
  cleanRatio,
  courseReach,
  loadCourse,
  loadWords,
  partLook,
  partNames,
  partOrder,
  partShape,
  partWords,
} from '@warmbrick/console';
import type { MachineDetail } from '@warmbrick/contracts';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

type Load = NonNullable<MachineDetail['load']>;

const load = (change: Partial<Load> = {}): Load => ({
  sootG: 24.8,
  sootLimitG: 40,
  sootRatio: 0.62,
  isMeasured: true,
  sootDoubtRatio: 0.06,
  depositG: 6,
  depositLimitG: 30,
  depositRatio: 0.2,
  isDepositMeasured: false,
  workTempC: 400,
  minutesUntilClean: 35,
  hoursToLimit: 40.3,
  wayToLimit: 'ahead',
  ...change,
});
const plain = (text: string | null | undefined) => (text ?? '').replace(/\u00a0/g, ' ');
const clearing = (change: Partial<Load>, units: 'metric' | 'imperial' = 'metric') =>
  plain(loadWords(load(change), units).clearing);
const limit = (wayToLimit: Load['wayToLimit'], hoursToLimit: number | null) =>
  plain(loadWords(load({ wayToLimit, hoursToLimit }), 'metric').limit);

describe('what has built up, in words', () => {
  it('says how much of the limit, and how sure that is', () => {
    const { soot, deposits } = loadWords(load(), 'metric');
    expect(plain(`${soot?.share} ${soot?.ofLimit}, ${soot?.amount}`)).toBe('62 % of the limit, 24.8 g of 40 g');
    expect(plain(soot?.basis)).toMatch(/^Measured: .* Give or take 6 % of the limit\.$/);
    expect(plain(`${deposits.share} ${deposits.ofLimit}, ${deposits.amount}`)).toBe('20 % of the limit, 6 g of 30 g');
    expect(deposits.basis).toMatch(/^Modelled only/);
    const unsure = loadWords(load({ isMeasured: false, sootDoubtRatio: null, sootRatio: 1.2 }), 'metric').soot;
    expect(unsure?.basis).toBe('Modelled only: the machine has sent no soot signal. How sure it is, is not known.');
    expect(unsure?.ofLimit).toBe('of the limit: over it');
  });

  it('says what the soot rests on: signal, pressure drop or model, and where its NO2 comes from', () => {
    const basis = (change: Partial<Load>) => loadWords(load(change), 'metric').soot?.basis;
    expect(basis({ sootBasis: 'signal', no2Basis: 'sensed' })).toMatch(/own soot signal, carried on by a model/);
    expect(basis({ sootBasis: 'signal-and-pressure' })).toMatch(/soot signal and the pressure drop/);
    expect(basis({ sootBasis: 'pressure', isMeasured: false })).toMatch(/^Reckoned from the pressure drop/);
    const modelled = { sootBasis: 'model', isMeasured: false } as const;
    expect(basis({ ...modelled, no2Basis: 'sensed' })).toMatch(/its NOx sensor and exhaust flow\./);
    expect(basis({ ...modelled, no2Basis: 'estimated' })).toMatch(/estimated from load and fuel\./);
    expect(basis({ sootBasis: 'model', isMeasured: true })).toMatch(/too old to count/);
  });

  it('says what clears it', () => {
    expect(clearing({})).toBe('About 35 min of work above 400 °C until clean, which is under 30 % of their limits.');
    // 400 C is 752 F by definition (NIST SP 811, B.8).
    expect(clearing({ minutesUntilClean: 130 }, 'imperial')).toContain('About 2 h 10 min of work above 752 °F');
    expect(clearing({ minutesUntilClean: null })).toBe('Work alone will not clear it: have it looked at.');
    expect(clearing({ minutesUntilClean: 0 })).toBe('Clean as it is: both are under 30 % of their limits.');
    expect(cleanRatio).toBe(analysisCleanRatio);
  });

  it.each([
    ['reached', 0, 'The soot limit is reached now.'],
    ['never', null, 'At the duty of late soot burns off as fast as it comes: the limit is never reached.'],
    ['far', null, 'At the duty of late the soot limit is over 1000 running hours away.'],
    ['unknown', null, 'How soon the soot limit comes cannot be told yet.'],
    ['ahead', 0.4, 'At the duty of late the soot limit is less than a running hour away.'],
    ['ahead', 1.2, 'At the duty of late the soot limit is about 1 running hour away.'],
    ['ahead', 40.3, 'At the duty of late the soot limit is about 40 running hours away.'],
  ] as const)('%s, %s hours to the limit: "%s"', (way, hours, words) => {
    expect(limit(way, hours)).toBe(words);
  });

  it('has no words for soot where there is no filter', () => {
    const none = { sootG: null, sootLimitG: null, sootRatio: null, sootDoubtRatio: null, hoursToLimit: null };
    const words = loadWords(load({ ...none, wayToLimit: 'no-filter', minutesUntilClean: 0 }), 'metric');
    expect([words.soot, words.limit]).toEqual([null, null]);
    expect(plain(words.clearing)).toBe('Clean as it is: the deposits are under 30 % of the limit.');
  });
});

/** Length of all bricks of a path along both courses. */
function lengthOf(path: string): number {
  return [...path.matchAll(/M([\d.]+) [\d.]+H([\d.]+)/g)].reduce(
    (sum, [, from, to]) => sum + Number(to) - Number(from),
    0,
  );
}

describe('courses up to a limit', () => {
  it('fill as far as the amount reaches, and over the limit only beyond it', () => {
    expect(lengthOf(loadCourse(0, null).laid)).toBe(0);
    expect(loadCourse(1, null)).toMatchObject({ open: '', over: '' });
    expect(lengthOf(loadCourse(0.5, null).laid)).toBeCloseTo(lengthOf(loadCourse(1, null).laid) / 2, -1);
    expect(lengthOf(loadCourse(1.1, null).over)).toBeGreaterThan(10);
    expect(loadCourse(9, 0.2).over).toBe(loadCourse(1.18, 0.2).over);
  });

  it('grow with the amount, keep bricks and places apart, stay inside, bracket the doubt', () => {
    const share = fc.double({ min: 0, max: 3, noNaN: true });
    fc.assert(
      fc.property(share, share, share, (a, b, doubtRatio) => {
        const [less, more] = [loadCourse(Math.min(a, b), doubtRatio), loadCourse(Math.max(a, b), doubtRatio)];
        const all = (course: typeof less) => lengthOf(course.laid + course.over);
        // Slivers of a brick are left out: one a course.
        expect(all(more)).toBeGreaterThanOrEqual(all(less) - 0.9);
        expect(lengthOf(less.laid + less.open)).toBeLessThanOrEqual(200);
        expect(lengthOf(less.laid + less.open)).toBeGreaterThan(175);
        const ends = [...`${less.laid}${less.open}${less.over}${less.doubt}`.matchAll(/[MH]([\d.]+)/g)];
        for (const [, x] of ends) expect(Number(x)).toBeLessThanOrEqual(courseReach);
        expect(less.doubt).not.toBeNull();
      }),
    );
    expect(loadCourse(0.5, null).doubt).toBeNull();
  });
});

describe('parts of the score', () => {
  it('are those of the analysis, in its order, each with a name and a meaning', () => {
    expect([...partOrder]).toEqual([...scoreParts]);
    for (const part of partOrder) expect(partWords(part).meaning).not.toBe('');
    expect(new Set(partOrder.map((part) => partWords(part).name)).size).toBe(partOrder.length);
  });

  it('leave an unknown one working under its code, after the known', () => {
    expect(partNames({ 'brand-new': 3, idling: 1, 'soot-load': 2 })).toEqual(['soot-load', 'idling', 'brand-new']);
    expect(partWords('brand-new')).toEqual({ name: 'brand new', meaning: '' });
    expect([partLook('brand-new'), partLook('idling')]).toEqual(['other', 'idling']);
  });

  it('are each drawn differently even without colour, at any length that shows', () => {
    const looks = [...partOrder, 'other'] as const;
    fc.assert(
      fc.property(fc.double({ min: 1, max: 100, noNaN: true }), (points) => {
        const drawn = looks.map((look) => partShape(look, { start: 0, points }));
        expect(drawn).not.toContain(null);
        expect(new Set(drawn).size).toBe(looks.length);
        for (const path of drawn) expect(path).not.toMatch(/NaN|h-?[\d.]+h/);
      }),
    );
    expect(looks.map((look) => partShape(look, { start: 10, points: 0.5 }))).toEqual(looks.map(() => null));
  });
});
