/** How well each trouble explains a derate, factor by factor. */

import { activityFactor } from './activity-factor.js';
import { capabilityFactor } from './capability-factor.js';
import type { Evidence, SuspectSensor } from './derate-inquiry.js';
import { explains, isSensorOf, supplySpns } from './explains.js';
import { gapFactor } from './gap-factor.js';
import { hearSignals } from './hear-signals.js';
import type { InducementClass } from './inducement-class.js';
import { type Mechanism, mechanismFactor, mechanismOf } from './mechanism.js';
import type { Factor, ScoreContext } from './score-context.js';
import type { Trouble } from './trouble.js';

export interface ScoredTrouble {
  readonly trouble: Trouble;
  /** Above 0; about 1 for a fault that explains the derate well. */
  readonly score: number;
  readonly evidence: readonly Evidence[];
  readonly suspects: readonly SuspectSensor[];
  /** Troubles that this one is no surprise after. */
  readonly explainedBy: readonly Trouble[];
}

/** Testimony may not drown everything else. Source: engineering judgement. */
const testimonyBounds = { least: 0.2, most: 2.5 };
/** A trouble that follows from an earlier one, and one that only came later. Source: engineering judgement. */
const followerLoss = 0.75;
const followerShare = 0.5;
const firmRatio = 0.45;
/** More than this is as good as certain. Source: engineering judgement. */
const fullScore = 1.5;
const laterFactor = 0.7;
/** Nearer than this two troubles came together: controllers confirm faults in their own time. Source: engineering judgement. */
const togetherMs = 120_000;
/** An earlier trouble takes precedence only if it explains about as well. Source: engineering judgement. */
const rivalRatio = 0.5;
const explainerRatio = 0.12;
/** What each follower adds, for so many at most. Source: engineering judgement. */
const perFollower = 0.12;
const mostFollowers = 5;
/** Confirming a fault takes up to this. Source: engineering judgement. */
const confirmMs = 20 * 60_000;
/** Below this nothing is listed. Source: design decision. */
const leastScore = 0.001;
/** Troubles that come at once in such a number are one event. Source: engineering judgement. */
const burst = { codes: 15, ms: 60_000, factor: 0.35 };

/** Scores; the order of what comes back is not a ranking. */
export function scoreTroubles(troubles: readonly Trouble[], context: ScoreContext): ScoredTrouble[] {
  const mechanism = mechanismOf(context);
  // What was gone long before has no part in anything.
  const present = troubles.flatMap((trouble) => {
    const activity = activityFactor(trouble, context);
    return activity === null ? [] : [{ trouble, activity }];
  });
  const all = present.map(({ trouble }) => trouble);
  const likely = present
    .map((one) => baseOf(one, all, { context, mechanism }))
    .filter(({ score }) => score >= leastScore)
    .map((one) => withFollowers(one, all));
  return likely.map((one) => withPrecedence(one, likely)).filter(({ score }) => score >= leastScore);
}

function baseOf(
  { trouble, activity }: { trouble: Trouble; activity: Factor },
  all: readonly Trouble[],
  { context, mechanism }: { context: ScoreContext; mechanism: Mechanism },
): ScoredTrouble {
  const classes = classesOf(trouble, all);
  const factors: Factor[] = [
    capabilityFactor(trouble),
    ...mechanismFactor(trouble, classes, { mechanism, all }),
    gapFactor(trouble, classes, context),
    activity,
  ];
  const hasSensorTrouble = (channel: string) =>
    all.some((other) => other.description.known?.channel === channel && !other.description.isOfValue);
  const { view, findings, profile, derate } = context;
  const heard = hearSignals(trouble, { view, findings, profile, derateStartMs: derate.startedMs, hasSensorTrouble });
  const product = heard.reduce((so, { factor }) => so * factor, 1);
  const clamped = Math.min(testimonyBounds.most, Math.max(testimonyBounds.least, product));
  const score = factors.reduce((so, { factor }) => so * factor, clamped) * burstFactor(trouble, all);
  const evidence = [...factors.map((factor) => factor.evidence), ...heard.map((one) => one.evidence)];
  const suspects = heard.flatMap(({ suspect }) => (suspect === null ? [] : [suspect]));
  return { trouble, score, evidence, suspects, explainedBy: [] };
}

/** Classes that a trouble can act through: its own, and where its sensor feigns a value, that of the value. */
function classesOf(trouble: Trouble, all: readonly Trouble[]): readonly (InducementClass | null)[] {
  const { inducementClass, known, isOfValue } = trouble.description;
  const classes: (InducementClass | null)[] = [inducementClass];
  if (known !== null && byNox.includes(known.spn) && isOfValue) classes.push('dosing', 'tampering');
  if (known !== null && !isOfValue && all.some((other) => isSensorOf(trouble, other))) classes.push(known.valueClass);
  return classes;
}

/** Numbers judged by NOx: whatever makes it rise may be behind them. */
const byNox: readonly number[] = [4364, 3226];

/** A trouble that makes sense of others is the likelier for it. */
function withFollowers(one: ScoredTrouble, all: readonly Trouble[]): ScoredTrouble {
  const { trouble } = one;
  const followers = all.filter(
    (other) => isAheadOf(trouble, other) && explains(trouble, other) && !explains(other, trouble),
  );
  if (followers.length === 0) return one;
  const evidence: Evidence = {
    kind: 'consequence',
    text: `Makes sense of ${followers.length} other${followers.length === 1 ? '' : 's'} that came with it or after it.`,
    supports: true,
    figures: { followers: followers.length },
  };
  const factor = 1 + perFollower * Math.min(mostFollowers, followers.length);
  return { ...one, score: one.score * factor, evidence: [...one.evidence, evidence] };
}

function burstFactor({ anchor, anchorMs }: Trouble, all: readonly Trouble[]): number {
  const near = all.filter((other) => Math.abs(other.anchorMs - anchorMs) <= burst.ms).length;
  return near < burst.codes || supplySpns.includes(anchor.spn) ? 1 : (burst.factor * burst.codes) / near;
}

/** First to become active among those that can lead to it. */
function withPrecedence(one: ScoredTrouble, all: readonly ScoredTrouble[]): ScoredTrouble {
  const { trouble } = one;
  const explainers = all.filter(
    (other) =>
      isAheadOf(other.trouble, trouble) &&
      explains(other.trouble, trouble) &&
      other.score >= explainerRatio * one.score,
  );
  const rivals = all.filter(
    (other) => other.trouble.firstMs < trouble.firstMs - togetherMs && other.score >= rivalRatio * one.score,
  );
  const evidence: Evidence[] = [];
  let { score } = one;
  const first = explainers.reduce<ScoredTrouble | null>(
    (best, other) => (best === null || other.score > best.score ? other : best),
    null,
  );
  if (first !== null) {
    score = followerScore(score, trouble, first);
    evidence.push({
      kind: 'consequence',
      text: `Follows from ${first.trouble.description.spnText} (${first.trouble.anchor.spn}/${first.trouble.anchor.fmi}), which came before.`,
      supports: false,
      figures: { spn: first.trouble.anchor.spn, fmi: first.trouble.anchor.fmi },
    });
  } else if (rivals.length > 0) {
    score *= laterFactor;
    evidence.push({
      kind: 'precedence',
      text: 'Others that can lead to it came first.',
      supports: false,
      figures: { earlier: rivals.length },
    });
  } else {
    evidence.push({
      kind: 'precedence',
      text: 'The first to become active among those that can lead to it.',
      supports: true,
      figures: {},
    });
  }
  return {
    ...one,
    score,
    evidence: [...evidence, ...one.evidence],
    explainedBy: explainers.map((other) => other.trouble),
  };
}

/** A good explanation puts a follower well behind it; the weaker it is, the more the follower stands for itself. */
function followerScore(score: number, trouble: Trouble, by: ScoredTrouble): number {
  if (by.trouble.isMild && !trouble.isMild) return laterFactor * score;
  const isFirm = by.score >= firmRatio * Math.min(score, fullScore);
  return isFirm
    ? Math.min((1 - followerLoss) * score, followerShare * by.score)
    : score * (1 - (followerLoss * by.score) / score);
}

/**
 * Whether a trouble can have been there before another: it was told of first, or so shortly after that only confirming it took
 * longer, where the other cannot have brought it in turn; a sensor that fails may be told of after what it feigns.
 */
function isAheadOf(other: Trouble, trouble: Trouble): boolean {
  if (other.firstMs <= trouble.firstMs || isSensorOf(other, trouble)) return true;
  return other.firstMs <= trouble.firstMs + confirmMs && !explains(trouble, other);
}
