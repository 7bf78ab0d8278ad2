/** Scores the inquiry into the origin of derates against simulated derates whose origin is known. */

import {
  builtInSchedules,
  builtInThresholds,
  createAnalyzer,
  type DerateEpisode,
  type DerateInquiry,
  derateEpisodes,
  type FaultEpisode,
  foldFaults,
  type InducementSchedule,
  initialFaultLog,
  inquireOrigin,
  type OriginCandidate,
} from '@warmbrick/analysis';
import { machineProfileSchema } from '@warmbrick/signals';
import {
  type CaseMechanism,
  caseMechanisms,
  createRandom,
  type DerateCase,
  makeDerateCase,
  type ScheduleFamily,
  seedFrom,
} from '@warmbrick/simulator';

export interface CaseOutcome {
  readonly seed: number;
  readonly mechanism: CaseMechanism;
  /** False when no analysis found a derate where there was one. */
  readonly isDerateFound: boolean;
  readonly isOriginSent: boolean;
  /** Rank of the best true origin; null when none is listed. */
  readonly rank: number | null;
  readonly verdict: DerateInquiry['verdict'];
  /** Of the origins that were named, how many are true. */
  readonly namedRight: number;
  readonly namedWrong: number;
  readonly confidence: number;
  readonly story: string;
}

export interface OriginScore {
  readonly cases: number;
  readonly firstSeed: number;
  /** Cases whose origin was sent: those that can be answered. */
  readonly answerable: number;
  readonly deratesFound: number;
  readonly firstRatio: number;
  readonly amongThreeRatio: number;
  /** Of the answerable: the true origin named, no answer, and only wrong ones named. */
  readonly namedRightRatio: number;
  readonly unknownRatio: number;
  readonly namedWrongRatio: number;
  /** Of the cases whose origin nobody sent: how many got the answer that nobody knows. */
  readonly unsent: number;
  readonly unsentUnknownRatio: number;
  readonly byMechanism: readonly MechanismScore[];
  /** Of named origins: confidence against how often right. */
  readonly calibration: readonly { readonly from: number; readonly named: number; readonly right: number }[];
}

interface MechanismScore {
  readonly mechanism: CaseMechanism;
  readonly cases: number;
  readonly first: number;
  readonly amongThree: number;
  readonly unknown: number;
  readonly wrong: number;
}

/** The hours of signals that a look into the store would bring along. */
const hearingMs = 24 * 3_600_000;
const scheduleOf: Readonly<Record<ScheduleFamily, string>> = {
  eu: 'eu-stage-v',
  'us-4h': 'us-nonroad-4h',
  'us-36h': 'us-nonroad-36h',
  short: 'stepped-minutes',
  own: 'eu-stage-v',
};
const bins = [0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9];

/** Runs one case through everything a live machine's data goes through. */
export function judgeCase(one: DerateCase): CaseOutcome {
  const profile = machineProfileSchema.parse(one.profile);
  const analyzer = createAnalyzer({ machineId: one.machineId, profile, thresholds: builtInThresholds });
  const pushed = analyzer.push(one.samples).findings;
  const findings = [...new Map(pushed.map((finding) => [finding.id, finding])).values()];
  const faults = foldFaults(initialFaultLog, one.reports).episodes;
  const derates = derateEpisodes(findings, faults, { profile });
  const derate = nearest(derates, one.truth.derateStartedMs);
  const { truth } = one;
  const blank = {
    seed: one.seed,
    mechanism: truth.origins[0]?.mechanism as CaseMechanism,
    isOriginSent: truth.isOriginSent,
  };
  if (derate === undefined) {
    const none = { rank: null, verdict: 'unknown', namedRight: 0, namedWrong: 0, confidence: 0 } as const;
    return { ...blank, isDerateFound: false, ...none, story: `seed ${one.seed}: no derate found` };
  }
  const samples = [clip(one.samples, derate.startedMs - hearingMs, derate.startedMs + 3_600_000)];
  const inquiry = inquireOrigin({ derate, faults, samples, findings, profile, schedules: schedulesFor(one) });
  const isTrue = (candidate: OriginCandidate) => isOrigin(candidate, faults, one);
  const named = inquiry.origins.filter((candidate) => candidate.isOrigin);
  const namedRight = named.filter(isTrue).length;
  return {
    ...blank,
    isDerateFound: true,
    rank: inquiry.origins.find(isTrue)?.rank ?? null,
    verdict: inquiry.verdict,
    namedRight,
    namedWrong: named.length - namedRight,
    confidence: inquiry.confidence,
    story: storyOf(one, derate, inquiry),
  };
}

/** Half of the machines are known to follow one family; of the others every built-in schedule is asked. */
function schedulesFor({ seed, truth }: DerateCase): readonly InducementSchedule[] {
  const isKnown = createRandom(seedFrom('schedules', seed)).next() < 0.5;
  const id = scheduleOf[truth.family ?? 'eu'];
  return isKnown ? builtInSchedules.filter((schedule) => schedule.id === id) : builtInSchedules;
}

/** The derate that goes on at, or begins nearest to, the true start. */
function nearest(derates: readonly DerateEpisode[], atMs: number): DerateEpisode | undefined {
  const hourMs = 3_600_000;
  return derates
    .filter(({ startedMs, endedMs }) => startedMs < atMs + 8 * hourMs && (endedMs ?? atMs) >= atMs - hourMs)
    .sort((a, b) => Math.abs(a.startedMs - atMs) - Math.abs(b.startedMs - atMs))[0];
}

function clip(block: DerateCase['samples'], fromMs: number, toMs: number): DerateCase['samples'] {
  const from = block.timeMs.findIndex((timeMs) => timeMs >= fromMs);
  const to = block.timeMs.findLastIndex((timeMs) => timeMs <= toMs) + 1;
  const channels = Object.fromEntries(
    Object.entries(block.channels).map(([name, column]) => [name, column.subarray(Math.max(0, from), to)]),
  );
  return { machineId: block.machineId, timeMs: block.timeMs.subarray(Math.max(0, from), to), channels };
}

function isOrigin(candidate: OriginCandidate, faults: readonly FaultEpisode[], one: DerateCase): boolean {
  const ids = new Set([candidate.faultId, ...candidate.relatedFaultIds]);
  const told = faults.filter(({ id }) => ids.has(id));
  return one.truth.origins.some(({ codes }) =>
    codes.some((code) => told.some(({ spn, fmi }) => spn === code.spn && fmi === code.fmi)),
  );
}

function storyOf(one: DerateCase, derate: DerateEpisode, inquiry: DerateInquiry): string {
  const truth = one.truth.origins
    .map(({ mechanism, codes }) => `${mechanism} ${codes[0]?.spn}/${codes[0]?.fmi}`)
    .join(' + ');
  const off = ((derate.startedMs - one.truth.derateStartedMs) / 60_000).toFixed(0);
  const list = inquiry.origins
    .slice(0, 4)
    .map(({ spn, fmi, likelihood, isOrigin: isNamed }) => `${spn}/${fmi} ${likelihood}${isNamed ? '*' : ''}`)
    .join(', ');
  return `seed ${one.seed}: ${truth}, ${one.truth.gapH.toFixed(1)} h, ${one.truth.family ?? 'no schedule'}; derate off ${off} min; ${inquiry.verdict}: ${list}`;
}

/** Scores so many cases from a seed on. */
export function scoreOrigins(firstSeed: number, cases: number): { score: OriginScore; outcomes: CaseOutcome[] } {
  const outcomes = Array.from({ length: cases }, (_, k) => judgeCase(makeDerateCase(firstSeed + k)));
  const found = outcomes.filter(({ isDerateFound }) => isDerateFound);
  const answerable = outcomes.filter(({ isOriginSent }) => isOriginSent);
  const unsent = outcomes.filter(({ isOriginSent }) => !isOriginSent);
  const ratio = (list: readonly CaseOutcome[], is: (one: CaseOutcome) => boolean) =>
    list.length === 0 ? 0 : list.filter(is).length / list.length;
  const score: OriginScore = {
    cases,
    firstSeed,
    answerable: answerable.length,
    deratesFound: found.length,
    firstRatio: ratio(answerable, ({ rank }) => rank === 1),
    amongThreeRatio: ratio(answerable, ({ rank }) => rank !== null && rank <= 3),
    namedRightRatio: ratio(answerable, ({ namedRight }) => namedRight > 0),
    unknownRatio: ratio(answerable, ({ verdict }) => verdict === 'unknown'),
    namedWrongRatio: ratio(answerable, ({ namedRight, namedWrong }) => namedRight === 0 && namedWrong > 0),
    unsent: unsent.length,
    unsentUnknownRatio: ratio(unsent, ({ verdict }) => verdict === 'unknown'),
    byMechanism: caseMechanisms.map((mechanism) => mechanismScore(mechanism, answerable)),
    calibration: bins.map((from) => {
      const named = outcomes.filter(
        ({ confidence, verdict }) => verdict !== 'unknown' && confidence >= from && confidence < from + 0.1,
      );
      return { from, named: named.length, right: named.filter(({ namedRight }) => namedRight > 0).length };
    }),
  };
  return { score, outcomes };
}

function mechanismScore(mechanism: CaseMechanism, answerable: readonly CaseOutcome[]): MechanismScore {
  const own = answerable.filter((one) => one.mechanism === mechanism);
  const count = (is: (one: CaseOutcome) => boolean) => own.filter(is).length;
  return {
    mechanism,
    cases: own.length,
    first: count(({ rank }) => rank === 1),
    amongThree: count(({ rank }) => rank !== null && rank <= 3),
    unknown: count(({ verdict }) => verdict === 'unknown'),
    wrong: count(({ namedRight, namedWrong }) => namedRight === 0 && namedWrong > 0),
  };
}
