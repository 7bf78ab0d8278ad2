/** Codes of a case beside the origin's own: what follows from it, and what has nothing to do with it. */

import type { Random } from '../random.js';
import type { CodeSpan } from './derate-case.js';
import type { MechanismPlan } from './mechanisms.js';

const engineAddress = 0;
const aftertreatmentAddress = 61;
const otherAddresses = [3, 11, 33, 49] as const;
const hourMinutes = 60;

export interface CodeFrame {
  readonly minutes: number;
  readonly derateMinute: number;
  /** Which controller tells of the aftertreatment. */
  readonly aftertreatment: number;
}

/** The aftertreatment has a controller of its own on half of the machines. */
export function drawAftertreatmentAddress(random: Random): number {
  return random.next() < 0.5 ? engineAddress : aftertreatmentAddress;
}

const engineSpns: readonly number[] = [
  110, 111, 175, 100, 105, 107, 102, 641, 103, 157, 94, 97, 168, 158, 627, 620, 639, 173, 27, 411, 412, 2659, 2791,
];

/** The controller that a code comes from. */
function addressOf(spn: number, aftertreatment: number): number {
  return engineSpns.includes(spn) ? engineAddress : aftertreatment;
}

/** The origin's own codes: it rises through them until the derate; it may flicker, and may clear just before. */
export function originSpans(
  codes: readonly { spn: number; fmi: number }[],
  fromMinute: number,
  frame: CodeFrame,
  random: Random,
): CodeSpan[] {
  const address = addressOf(codes[0]?.spn ?? 0, frame.aftertreatment);
  const isLit = random.next() < 0.8;
  const endMinute = lastMinute(frame, random);
  const steps = codes.length;
  const spans = codes.map((code, k) => {
    const start = fromMinute + ((frame.derateMinute - fromMinute) * k) / steps;
    const end = k === steps - 1 ? endMinute : fromMinute + ((frame.derateMinute - fromMinute) * (k + 1)) / steps;
    return { ...code, sourceAddress: address, fromMinute: Math.round(start), toMinute: Math.round(end), isLit };
  });
  const [only] = spans;
  // One in seven comes and goes before it stays; never for long, or its clock would start again.
  if (steps > 1 || only === undefined || random.next() > 0.15) return spans;
  const length = frame.derateMinute - fromMinute;
  const breakAt = fromMinute + Math.round(length * random.between(0.05, 0.35));
  const away = Math.max(2, Math.round(Math.min(20, length * 0.05)));
  return [
    { ...only, toMinute: breakAt },
    { ...only, fromMinute: breakAt + away },
  ];
}

/** Most origins are still active; a few clear minutes before the power goes, the others during the derate or after the end. */
function lastMinute({ derateMinute, minutes }: CodeFrame, random: Random): number {
  const draw = random.next();
  if (draw < 0.05) return derateMinute - Math.round(random.between(1, 6));
  return draw < 0.2 ? derateMinute + Math.round(random.between(10, 60)) : minutes + 1;
}

export function consequenceSpans(
  plan: MechanismPlan,
  fromMinute: number,
  frame: CodeFrame,
  random: Random,
): CodeSpan[] {
  const spans: CodeSpan[] = [];
  for (const { spn, fmi, ratio, afterH } of plan.consequences) {
    if (random.next() >= ratio) continue;
    // Controllers confirm in their own time: now and then what follows is told of first.
    const isEarly = random.next() < 0.1;
    const afterMinutes = isEarly ? -random.between(1, 18) : Math.max(1, random.between(...afterH) * hourMinutes);
    const start = Math.max(1, fromMinute + Math.round(afterMinutes));
    const sourceAddress = addressOf(spn, frame.aftertreatment);
    spans.push({ spn, fmi, sourceAddress, fromMinute: start, toMinute: frame.minutes + 1, isLit: random.next() < 0.6 });
  }
  return plan.mechanism === 'supply' ? [...spans, ...burst(fromMinute, frame, random)] : spans;
}

/** A failing supply makes circuits complain all over the machine. */
function burst(fromMinute: number, frame: CodeFrame, random: Random): CodeSpan[] {
  const spns = [3226, 3216, 1761, 3364, 4360, 3251, 3242, 105, 102, 412, 411, 91, 4765, 84, 175, 173, 3031, 5394];
  return spns
    .filter(() => random.next() < 0.4)
    .map((spn) => ({
      spn,
      fmi: [2, 3, 4, 9, 19][Math.floor(random.next() * 5)] as number,
      sourceAddress: addressOf(spn, frame.aftertreatment),
      fromMinute: fromMinute + Math.round(random.between(0, 2)),
      toMinute: frame.minutes + 1,
      isLit: true,
    }));
}

type Pair = readonly [spn: number, fmi: number];

/** Nothing that takes power. */
const harmless: readonly Pair[] = [
  [96, 1],
  [96, 17],
  [84, 9],
  [84, 2],
  [70, 2],
  [80, 18],
  [876, 5],
  [597, 2],
  [191, 9],
  [171, 4],
  [247, 2],
  [441, 3],
];
/** First warnings of things that would take power if they got worse. */
const mild: readonly Pair[] = [
  [107, 15],
  [111, 17],
  [110, 15],
  [97, 15],
  [3719, 15],
  [98, 17],
  [175, 15],
  [94, 17],
  [105, 15],
];
/** Circuits and parts that take power on some engines and not on these. */
const minor: readonly Pair[] = [
  [3251, 4],
  [4360, 3],
  [412, 3],
  [4766, 10],
  [651, 5],
  [654, 7],
  [3242, 2],
  [4765, 2],
  [173, 3],
  [175, 4],
  [3711, 31],
  [3703, 31],
  [1231, 9],
  [158, 17],
  [91, 3],
  [636, 8],
  [3720, 15],
  [5745, 4],
  [3556, 5],
];
/** Faults that take power when they last; here they are too young, or long gone. */
const strong: readonly Pair[] = [
  [3226, 4],
  [3216, 9],
  [4334, 18],
  [3364, 18],
  [5394, 5],
  [4364, 18],
  [2791, 7],
  [1761, 4],
  [3363, 5],
  [110, 0],
  [157, 18],
  [102, 18],
  [5435, 7],
];

/** Strong ones that take hours to lead to anything. */
const scheduledSpns: readonly number[] = [3226, 3216, 4334, 3364, 5394, 4364, 2791, 3363, 5435];

/** Codes that have nothing to do with the derate, over the whole time and after it. */
export function distractorSpans(frame: CodeFrame, random: Random): CodeSpan[] {
  const count = Math.floor(random.between(0, 13));
  return Array.from({ length: count }, () => distractor(frame, random));
}

function distractor(frame: CodeFrame, random: Random): CodeSpan {
  const draw = random.next();
  const isMaker = draw >= 0.75 && draw < 0.88;
  const isOther = random.next() < (draw < 0.3 ? 0.6 : isMaker ? 0.7 : 0.1);
  const [spn, fmi] = isMaker
    ? [516_096 + Math.floor(random.next() * 8000), Math.floor(random.next() * 20)]
    : pick(random, draw < 0.3 ? harmless : draw < 0.5 ? mild : draw < 0.75 ? minor : strong);
  const sourceAddress = isOther ? pick(random, otherAddresses) : addressOf(spn, frame.aftertreatment);
  const lasts = Math.round(Math.exp(random.between(1, 7)));
  const isStrong = draw >= 0.88;
  const fromMinute = isStrong
    ? strongStart(frame, { lasts, isScheduled: scheduledSpns.includes(spn) }, random)
    : Math.floor(random.next() * frame.minutes);
  const isForGood = !isStrong && random.next() < 0.35;
  return {
    spn,
    fmi,
    sourceAddress,
    fromMinute,
    toMinute: isForGood ? frame.minutes + 1 : fromMinute + lasts,
    isLit: random.next() < 0.5,
  };
}

/**
 * A strong one is long gone by the time of the derate, comes only after it, or just before it, too young to have led to
 * anything: else it would be an origin too.
 */
function strongStart(
  { derateMinute, minutes }: CodeFrame,
  { lasts, isScheduled }: { lasts: number; isScheduled: boolean },
  random: Random,
): number {
  const draw = random.next();
  const isAfter = draw < 0.35;
  if (draw > 0.75 && isScheduled) return Math.max(1, derateMinute - Math.round(random.between(2, 50)));
  const gone = derateMinute - lasts - random.between(2, 6) * hourMinutes;
  if (isAfter || gone < 0) return Math.min(minutes, derateMinute + Math.round(random.between(5, 90)));
  return Math.round(random.next() * gone);
}

export function pick<T>(random: Random, from: readonly T[]): T {
  return from[Math.min(from.length - 1, Math.floor(random.next() * from.length))] as T;
}
