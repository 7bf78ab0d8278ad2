/** Holds findings against claims. */

import type { Finding } from '@warmbrick/analysis';
import { type Claim, type ScoredKind, scoredKinds } from './claims.js';
import type { Coverage } from './coverage.js';

export interface KindTally {
  hits: number;
  misses: number;
  falseAlarms: number;
  findings: number;
  /** How far the start of a found one is off, s, one entry a hit; silence is not held against it. */
  readonly offS: number[];
  /** Machines and times of what went wrong, for looking at; bounded. */
  readonly examples: string[];
}

export type Tally = Record<ScoredKind, KindTally>;

/** How far apart a finding and what it is about may be, beyond silence, s. Source: engineering judgement. */
const slackS: Readonly<Partial<Record<ScoredKind, number>>> = { 'def-fill': 1500, 'def-drop': 1500, 'early-load': 300 };
const usualSlackS = 180;
const mostExamples = 400;

/** Nothing found and nothing missed. */
export function emptyTally(): Tally {
  const blank = (): KindTally => ({ hits: 0, misses: 0, falseAlarms: 0, findings: 0, offS: [], examples: [] });
  return Object.fromEntries(scoredKinds.map((kind) => [kind, blank()])) as Tally;
}

/** Adds one machine: a required claim is hit by a finding of its kind that touches it; one that touches no claim is a false alarm. */
export function tallyMachine(
  tally: Tally,
  claims: readonly Claim[],
  made: { findings: readonly Finding[]; coverage: Coverage; machineId: string },
): void {
  for (const kind of scoredKinds) {
    const ours = made.findings.filter((finding) => finding.kind === kind && !isNeutral(finding));
    const theirs = claims.filter((claim) => claim.kind === kind);
    const of = tally[kind];
    of.findings += ours.length;
    for (const claim of theirs) {
      if (claim.weight !== 'required') continue;
      const hit = nearest(
        claim,
        ours.filter((finding) => touches(claim, finding, made.coverage)),
      );
      if (hit === null) {
        of.misses++;
        note(of, `missed ${kind} of ${made.machineId} at ${iso(claim.startedMs)}`);
      } else {
        of.hits++;
        of.offS.push(offS(claim, hit, made.coverage));
      }
    }
    for (const finding of ours) {
      if (theirs.some((claim) => touches(claim, finding, made.coverage))) continue;
      of.falseAlarms++;
      note(of, `false ${kind} of ${made.machineId} at ${iso(finding.startedMs)}`);
    }
  }
}

/** Early load wants a longer warm-up the colder it is; truth knows only the three minutes that any cold engine needs. */
function isNeutral({ kind, values }: Finding): boolean {
  return kind === 'early-load' && Number(values.warmupS) >= 178;
}

/** Whether they overlap, give or take silence and slack, and are about the same sensor. */
function touches(claim: Claim, finding: Finding, coverage: Coverage): boolean {
  const slackMs = (slackS[claim.kind] ?? usualSlackS) * 1000;
  const fromMs = (coverage.lastSampleMs(claim.startedMs) ?? claim.startedMs) - slackMs;
  const toMs = (coverage.nextSampleMs(claim.endedMs) ?? claim.endedMs) + slackMs;
  if (finding.startedMs > toMs || (finding.endedMs ?? Number.POSITIVE_INFINITY) < fromMs) return false;
  if (claim.channels === undefined) return true;
  const named = [finding.values.channel, finding.evidence.neighbour].map(String);
  return claim.channels.some((channel) => named.includes(channel));
}

/** How far the start is off, s; nought anywhere between the samples before and after, where nobody could see it. */
function offS(claim: Claim, finding: Finding, coverage: Coverage): number {
  const earliestMs = coverage.lastSampleMs(claim.startedMs) ?? claim.startedMs;
  const latestMs = coverage.nextSampleMs(claim.startedMs) ?? claim.startedMs;
  return Math.max(0, earliestMs - finding.startedMs, finding.startedMs - latestMs) / 1000;
}

function nearest(claim: Claim, findings: readonly Finding[]): Finding | null {
  const off = (finding: Finding) => Math.abs(finding.startedMs - claim.startedMs);
  return findings.reduce<Finding | null>((best, one) => (best === null || off(one) < off(best) ? one : best), null);
}

function note(of: KindTally, example: string): void {
  if (of.examples.length < mostExamples) of.examples.push(example);
}

function iso(timeMs: number): string {
  return new Date(timeMs).toISOString();
}
