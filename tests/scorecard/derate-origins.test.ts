import { makeDerateCase } from '@warmbrick/simulator';
import { describe, expect, it } from 'vitest';
import { judgeCase, scoreOrigins } from './derate-origins.js';
import { derateText, wanted, withDerates } from './derate-report.js';

/** Seeds that nothing was chosen on. */
const firstSeed = 300_001;
const cases = 200;

describe('the inquiry against simulated derates', () => {
  const { score, outcomes } = scoreOrigins(firstSeed, cases);
  const missed = outcomes.filter(({ rank, isOriginSent }) => isOriginSent && (rank === null || rank > 3));

  it('ranks the true origin first in 90 %, and among the first three in 98 % give or take one case', () => {
    expect(score.answerable).toBeGreaterThan(150);
    expect(score.firstRatio).toBeGreaterThanOrEqual(wanted.firstRatio);
    const stories = missed.map(({ story }) => story).join('\n');
    expect(score.amongThreeRatio + 1 / score.answerable, stories).toBeGreaterThanOrEqual(wanted.amongThreeRatio);
  });

  it('says that it does not know rather than naming a wrong one', () => {
    expect(score.unknownRatio).toBeGreaterThan(score.namedWrongRatio);
    expect(score.namedWrongRatio).toBeLessThan(0.02);
    expect(score.unsentUnknownRatio).toBeGreaterThan(0.7);
    // And it does not get there by never naming any.
    expect(score.namedRightRatio).toBeGreaterThan(0.8);
  });

  it('has every way of losing power in it, and is surer where it is right', () => {
    expect(score.byMechanism.filter((row) => row.cases === 0)).toEqual([]);
    const right = outcomes.filter(({ namedRight }) => namedRight > 0);
    const wrong = outcomes.filter(({ namedRight, namedWrong }) => namedRight === 0 && namedWrong > 0);
    const mean = (list: typeof outcomes) => list.reduce((sum, one) => sum + one.confidence, 0) / list.length;
    expect(mean(right)).toBeGreaterThan(mean(wrong) + 0.1);
  });

  it('gives the same again, and a page that says so', () => {
    expect(judgeCase(makeDerateCase(firstSeed))).toEqual(outcomes[0]);
    const section = derateText(score, null);
    expect(section).toContain(`${cases} simulated derates`);
    expect(withDerates('# Scorecard\n\n## Origin of derates\n\nold\n', section)).not.toContain('old');
  });

  it('would see an inquiry that names the derate code itself', () => {
    // The truth of a case is never a code that only says that power is taken.
    const consequences = [1569, 3644, 5246, 4094, 4095, 4096];
    for (let seed = 1; seed < 100; seed++) {
      const codes = makeDerateCase(seed).truth.origins.flatMap((origin) => origin.codes);
      expect(codes.filter(({ spn }) => consequences.includes(spn))).toEqual([]);
    }
  });
});
