/** Laws of the inquiry, on simulated derates whose origin is known. */

import {
  builtInSchedules,
  builtInThresholds,
  createAnalyzer,
  type DerateEpisode,
  type DerateInquiry,
  derateEpisodes,
  type FaultEpisode,
  type FaultInput,
  type Finding,
  foldFaults,
  initialFaultLog,
  inquireOrigin,
  maxCandidates,
  maxRevisions,
  reviseInquiry,
} from '@warmbrick/analysis';
import { machineProfileSchema, sliceBlock } from '@warmbrick/signals';
import { type DerateCase, makeDerateCase } from '@warmbrick/simulator';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';

const hourMs = 3_600_000;
const runs = { numRuns: Number(process.env.RUNS ?? 40) };

interface Lived {
  readonly one: DerateCase;
  readonly findings: readonly Finding[];
  readonly profile: ReturnType<typeof machineProfileSchema.parse>;
}

const lives = new Map<number, Lived>();
function live(seed: number): Lived {
  const known = lives.get(seed);
  if (known !== undefined) return known;
  const one = makeDerateCase(seed);
  const profile = machineProfileSchema.parse(one.profile);
  const analyzer = createAnalyzer({ machineId: one.machineId, profile, thresholds: builtInThresholds });
  const findings = [...new Map(analyzer.push(one.samples).findings.map((finding) => [finding.id, finding])).values()];
  const lived = { one, profile, findings };
  lives.set(seed, lived);
  return lived;
}

function ask(lived: Lived, inputs: readonly FaultInput[], more: readonly FaultEpisode[] = []): Asked | null {
  const { findings, profile, one } = lived;
  const faults = [...foldFaults(initialFaultLog, inputs).episodes, ...more];
  const derate = derateEpisodes(findings, faults, { profile })[0];
  if (derate === undefined) return null;
  return {
    derate,
    faults,
    inquiry: inquireOrigin({ derate, faults, samples: [one.samples], findings, profile, schedules: builtInSchedules }),
  };
}

interface Asked {
  readonly derate: DerateEpisode;
  readonly faults: readonly FaultEpisode[];
  readonly inquiry: DerateInquiry;
}

const seeds = fc.integer({ min: 1, max: 60 });

/** A fault that cannot have to do with a derate. */
function unrelated(asked: Asked, machineId: string): fc.Arbitrary<FaultEpisode> {
  const { startedMs } = asked.derate;
  const base = {
    machineId,
    conversionMethod: 0,
    absentAtMs: null,
    occurrences: 1,
    reportedCount: 1,
    flash: 255,
    isPreviouslyActiveOnly: false,
    origin: 'dm1',
    lamps: { malfunction: 'off', redStop: 'on', amberWarning: 'on', protect: 'off' },
  } as const;
  const make = (spn: number, fmi: number, fromMs: number, toMs: number | null): FaultEpisode => ({
    ...base,
    // An address that no case has, so that it joins no fault that is there.
    sourceAddress: 200,
    id: `${machineId}~fault~200.${spn}.${fmi}~${fromMs}`,
    spn,
    fmi,
    startedMs: fromMs,
    endedMs: toMs,
    endedBy: toMs === null ? null : 'list',
    lastSeenMs: toMs ?? fromMs,
  });
  const fmi = fc.nat(31);
  const before = fc.integer({ min: 1, max: 100 }).map((hours) => startedMs - hours * hourMs);
  return fc.oneof(
    // Takes no power.
    fc
      .tuple(fc.constantFrom(96, 84, 70, 80, 876, 247), fmi, before)
      .map(([spn, k, fromMs]) => make(spn, k, fromMs, null)),
    // Only says that power is taken.
    fc
      .tuple(fc.constantFrom(3357, 899, 987, 624), fmi, before)
      .map(([spn, k, fromMs]) => make(spn, k, fromMs, startedMs - hourMs / 2)),
    // Came after it.
    fc
      .tuple(fc.constantFrom(3364, 110, 5394, 1761, 520_001), fmi, fc.integer({ min: 5, max: 500 }))
      .map(([spn, k, minutes]) => make(spn, k, startedMs + minutes * 60_000, null)),
    // Was gone long before.
    fc
      .tuple(fc.constantFrom(110, 157, 102, 520_001), fmi, fc.integer({ min: 400, max: 900 }))
      .map(([spn, k, hours]) => make(spn, k, startedMs - hours * hourMs, startedMs - (hours - 1) * hourMs)),
  );
}

describe('laws of the inquiry', () => {
  it('unrelated faults change neither the ranking nor the verdict nor any likelihood', () => {
    fc.assert(
      fc.property(
        seeds.chain((seed) => {
          const asked = ask(live(seed), live(seed).one.reports);
          const more =
            asked === null ? fc.constant([]) : fc.array(unrelated(asked, live(seed).one.machineId), { maxLength: 30 });
          return fc.record({ seed: fc.constant(seed), more });
        }),
        ({ seed, more }) => {
          const lived = live(seed);
          const plain = ask(lived, lived.one.reports);
          const crowded = ask(lived, lived.one.reports, more);
          fc.pre(plain !== null && crowded !== null && crowded.derate.startedMs === plain.derate.startedMs);
          const told = (asked: Asked | null) =>
            asked?.inquiry.origins.map(({ faultId, rank, likelihood, isOrigin }) => ({
              faultId,
              rank,
              likelihood,
              isOrigin,
            }));
          expect(told(crowded)).toEqual(told(plain));
          expect(crowded?.inquiry.verdict).toBe(plain?.inquiry.verdict);
        },
      ),
      runs,
    );
  });

  it('the order of arrival of lists, samples and findings changes nothing', () => {
    fc.assert(
      fc.property(seeds, fc.infiniteStream(fc.nat()), (seed, picks) => {
        const lived = live(seed);
        const { one, findings, profile } = lived;
        const plain = ask(lived, one.reports);
        fc.pre(plain !== null);
        const shuffle = <T>(list: readonly T[]): T[] =>
          list
            .map((item) => ({ item, key: picks.next().value as number }))
            .sort((a, b) => a.key - b.key)
            .map(({ item }) => item);
        const faults = shuffle(
          foldFaults(initialFaultLog, shuffle([...one.reports, ...one.reports.slice(0, 20)])).episodes,
        );
        const shuffledFindings = shuffle(findings);
        const derate = derateEpisodes(shuffledFindings, faults, { profile })[0];
        const cut = Math.floor(one.samples.timeMs.length / 3);
        const samples = shuffle([
          sliceBlock(one.samples, 0, cut),
          sliceBlock(one.samples, cut, 2 * cut),
          sliceBlock(one.samples, 2 * cut, one.samples.timeMs.length),
        ]);
        expect(derate).toEqual(plain?.derate);
        const inquiry = inquireOrigin({
          derate: derate as DerateEpisode,
          faults,
          samples,
          findings: shuffledFindings,
          profile,
          schedules: builtInSchedules,
        });
        expect(inquiry).toEqual(plain?.inquiry);
      }),
      runs,
    );
  });

  it('ranks without a gap, adds up to one at most, names no code that only says what is done, and always has cautions', () => {
    fc.assert(
      fc.property(seeds, (seed) => {
        const asked = ask(live(seed), live(seed).one.reports);
        fc.pre(asked !== null);
        const { origins, verdict, confidence, doNot, checkFirst } = (asked as Asked).inquiry;
        expect(origins.map(({ rank }) => rank)).toEqual(origins.map((_, i) => i + 1));
        expect(origins.length).toBeLessThanOrEqual(maxCandidates);
        const named = origins.filter(({ isOrigin }) => isOrigin);
        expect(verdict).toBe(named.length === 0 ? 'unknown' : named.length === 1 ? 'found' : 'several');
        expect(confidence).toBeLessThanOrEqual(1);
        expect(named.reduce((sum, { likelihood }) => sum + likelihood, 0)).toBeLessThanOrEqual(1.001);
        expect(origins.filter(({ spn }) => [1569, 3644, 5246, 4094, 4095, 4096, 899].includes(spn))).toEqual([]);
        for (const { evidence, likelihood } of origins) {
          expect(likelihood).toBeGreaterThanOrEqual(0);
          expect(evidence.length).toBeGreaterThanOrEqual(4);
        }
        const cautions = doNot.join(' ');
        for (const words of ['not allowed', 'manual comes first', 'hot', 'park']) expect(cautions).toContain(words);
        expect(checkFirst.length).toBeLessThanOrEqual(6);
      }),
      runs,
    );
  });

  it('changes nothing that is passed in', () => {
    fc.assert(
      fc.property(seeds, (seed) => {
        const lived = live(seed);
        const before = JSON.stringify([lived.one.reports, lived.findings, [...lived.one.samples.timeMs]]);
        ask(lived, lived.one.reports);
        expect(JSON.stringify([lived.one.reports, lived.findings, [...lived.one.samples.timeMs]])).toBe(before);
      }),
      { numRuns: 10 },
    );
  });

  it('judges a machine of which there are only codes, and one of which there is nothing', () => {
    const lived = live(3);
    const { profile } = lived;
    const faults = foldFaults(initialFaultLog, lived.one.reports).episodes;
    const derate = ask(lived, lived.one.reports)?.derate as DerateEpisode;
    const codesOnly = inquireOrigin({ derate, faults, samples: [], findings: [], profile, schedules: [] });
    expect(codesOnly.notes.map(({ text }) => text).join()).toContain('No signals were recorded');
    const nothing = inquireOrigin({ derate, faults: [], samples: [], findings: [], profile, schedules: [] });
    expect(nothing).toMatchObject({ origins: [], verdict: 'unknown', confidence: 0 });
  });
});

describe('the history of an answer', () => {
  /** The first simulated derate of which one origin is named. */
  function answered(): DerateInquiry {
    for (let seed = 1; seed < 30; seed++) {
      const inquiry = ask(live(seed), live(seed).one.reports)?.inquiry;
      if (inquiry?.verdict === 'found') return inquiry;
    }
    throw new Error('no origin is ever named');
  }

  it('grows by what changed, and only then', () => {
    const first = answered();
    const once = reviseInquiry([], first, 1);
    expect(once).toHaveLength(1);
    expect(reviseInquiry(once, first, 2)).toBe(once);
    const other: DerateInquiry = {
      ...first,
      verdict: 'unknown',
      origins: first.origins.map((one) => ({ ...one, isOrigin: false })),
    };
    const twice = reviseInquiry(once, other, 3);
    expect(twice).toHaveLength(2);
    expect(twice[1]).toMatchObject({ revision: 2, madeMs: 3 });
    expect(twice[1]?.changes.join()).toContain('and is unknown');
  });

  it('is bounded, and keeps the first', () => {
    const first = answered();
    let history = reviseInquiry([], first, 0);
    for (let k = 1; k < 200; k++) {
      history = reviseInquiry(history, { ...first, verdict: k % 2 === 0 ? 'found' : 'unknown' }, k);
    }
    expect(history).toHaveLength(maxRevisions);
    expect(history[0]?.revision).toBe(1);
    expect(history.at(-1)?.madeMs).toBe(199);
  });
});
