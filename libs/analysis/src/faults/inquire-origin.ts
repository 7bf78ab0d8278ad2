/** The inquiry: which fault began a derate. */

import type { MachineProfile, SampleBlock } from '@warmbrick/signals';
import { rounded } from '../figures.js';
import type { Finding } from '../finding.js';
import type { DerateEpisode } from './derate-episode.js';
import type { DerateInquiry, Evidence, OriginCandidate, SuspectSensor } from './derate-inquiry.js';
import type { FleetFaultTable } from './describe-fault.js';
import type { FaultEpisode } from './fault-episode.js';
import { createHoursMeter } from './hours-meter.js';
import type { HoursReading } from './inducement-clock.js';
import type { InducementSchedule } from './inducement-schedule.js';
import { checkFirst, doNot, summaryOf } from './inquiry-advice.js';
import { type Judgement, judgeOrigins } from './judge-origins.js';
import { type ScoredTrouble, scoreTroubles } from './score-troubles.js';
import { viewSignals } from './signal-view.js';
import { type Trouble, troublesOf } from './trouble.js';

export interface InquiryInput {
  readonly derate: DerateEpisode;
  /** Every episode of the machine that is known, at least of the last weeks. */
  readonly faults: readonly FaultEpisode[];
  /** Samples of the hours before the derate, and some after it began; empty when there are none. */
  readonly samples: readonly SampleBlock[];
  /** Findings of the same time and before; runs tell engine hours where no counter does. */
  readonly findings: readonly Finding[];
  readonly profile: MachineProfile;
  /** Schedules that may hold for the machine, as `schedulesInForce` gives them. */
  readonly schedules: readonly InducementSchedule[];
  readonly fleetTable?: FleetFaultTable;
  /** Readings of the hour counter from before the samples. */
  readonly engineHours?: readonly HoursReading[];
}

/** Candidates that are listed. Source: design decision: a page holds them. */
export const maxCandidates = 12;
/** A controller may tell of its fault this much after another has taken the power. Source: engineering judgement. */
const slackMs = 120_000;

/**
 * Ranks the faults that could have begun a derate.
 *
 * Laws: the order of faults, samples and findings does not matter; nothing passed in is changed; a code that says that power
 * is taken or an inducement runs is never an origin; a fault that takes no power by itself changes nothing.
 * Missing: what was not recorded takes the certainty away, not the answer; the notes say what was missing.
 */
export function inquireOrigin(input: InquiryInput): DerateInquiry {
  const { derate, faults, samples, findings, profile, schedules } = input;
  const fleetTable = input.fleetTable ?? [];
  const readings = input.engineHours ?? [];
  const meter = createHoursMeter({ samples, findings, readings });
  const view = viewSignals(samples, profile.runningRpm);
  const untilMs = derate.startedMs + slackMs + meter.setBackMs;
  const troubles = troublesOf(faults, { derateMs: derate.startedMs, untilMs, meter, fleetTable });
  const scored = scoreTroubles(troubles, { derate, faults, findings, profile, schedules, fleetTable, meter, view });
  const judgement = judgeOrigins(scored);
  const listed = judgement.ranked.slice(0, maxCandidates);
  const origins = listed.map((one, i) => candidateOf(one, i + 1, judgement));
  return {
    derateId: derate.id,
    machineId: derate.machineId,
    origins,
    verdict: judgement.verdict,
    confidence: rounded(judgement.confidence, 3),
    summary: summaryOf(origins, judgement.verdict),
    checkFirst: checkFirst(listed, judgement),
    doNot: doNot(listed, judgement),
    suspectSensors: sensorsOf(listed, findings, derate.startedMs),
    notes: notesOf(input, troubles, meter.setBackMs),
    scheduleIds: schedules.map(({ id }) => id),
  };
}

function candidateOf(one: ScoredTrouble, rank: number, judgement: Judgement): OriginCandidate {
  const { anchor, description, episodes } = one.trouble;
  const { id: faultId, spn, fmi, sourceAddress, startedMs } = anchor;
  return {
    faultId,
    relatedFaultIds: episodes.map(({ id }) => id).filter((id) => id !== faultId),
    spn,
    fmi,
    sourceAddress,
    startedMs,
    text: `${description.spnText}: ${description.fmiText}`,
    inducementClass: description.inducementClass,
    rank,
    likelihood: rounded(judgement.likelihoodOf(one), 3),
    isOrigin: judgement.origins.includes(one),
    evidence: one.evidence,
  };
}

const dayMs = 24 * 3_600_000;

/** Candidates whose testimony is asked for sensors. Source: design decision. */
const sensorCandidates = 4;

/** Sensors that testimony on the likeliest or the analysis doubts; each channel once. */
function sensorsOf(listed: readonly ScoredTrouble[], findings: readonly Finding[], startMs: number): SuspectSensor[] {
  const found = [...findings]
    .sort((a, b) => a.startedMs - b.startedMs || (a.id < b.id ? -1 : 1))
    .filter(
      ({ kind, startedMs, endedMs }) =>
        kind === 'sensor-suspect' && startedMs <= startMs && (endedMs ?? startMs) > startMs - dayMs,
    )
    .map(({ values }) => ({
      channel: values.channel as SuspectSensor['channel'],
      why: String(values.why).replaceAll('-', ' '),
    }));
  const all = [...listed.slice(0, sensorCandidates).flatMap(({ suspects }) => suspects), ...found];
  return all.filter(({ channel }, i) => all.findIndex((other) => other.channel === channel) === i);
}

/** Faults that come at once in such a number tell of supply or network. Source: engineering judgement. */
const burstCodes = 15;
const burstMs = 60_000;

function notesOf(input: InquiryInput, troubles: readonly Trouble[], setBackMs: number): Evidence[] {
  const { samples, schedules, derate } = input;
  const notes: Evidence[] = [];
  const note = (kind: Evidence['kind'], text: string, figures: Evidence['figures'] = {}) =>
    notes.push({ kind, text, supports: null, figures });
  if (samples.length === 0) note('coverage', 'No signals were recorded before it: only the codes could be judged.');
  if (setBackMs > 0) {
    note('clock', 'The clock of the machine was set back: the order of codes around that is not certain.', {
      setBackS: Math.round(setBackMs / 1000),
    });
  }
  const fromMemory = schedules.filter((schedule) => schedule.fromMemory).map(({ title }) => title);
  if (fromMemory.length > 0)
    note('schedule', `Times of ${fromMemory.join(', ')} are from memory and were not read in the text.`);
  const burst = largestBurst(troubles);
  if (burst >= burstCodes)
    note('precedence', `${burst} codes came at once, as with a failing supply or network.`, { codes: burst });
  if (derate.endedMs === null) note('coverage', 'The derate still goes on.');
  return notes;
}

function largestBurst(troubles: readonly Trouble[]): number {
  const times = troubles.map(({ anchorMs }) => anchorMs).sort((a, b) => a - b);
  let most = 0;
  let from = 0;
  times.forEach((timeMs, i) => {
    while ((times[from] as number) < timeMs - burstMs) from++;
    most = Math.max(most, i - from + 1);
  });
  return most;
}
