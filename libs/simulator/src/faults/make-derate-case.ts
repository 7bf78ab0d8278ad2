/** Makes a derate case from a seed. */

import type { ChannelName } from '@warmbrick/signals';
import { createRandom, type Random, seedFrom } from '../random.js';
import {
  type CodeFrame,
  consequenceSpans,
  distractorSpans,
  drawAftertreatmentAddress,
  originSpans,
  pick,
} from './case-codes.js';
import { driveOf, type EngineMinute } from './case-drive.js';
import { reportsOf } from './case-reports.js';
import { signalsOf } from './case-signals.js';
import { type CaseCode, type CodeSpan, type DerateCase, type ScheduleFamily, scheduleFamilies } from './derate-case.js';
import { familySteps, type MechanismPlan, mechanismPlans } from './mechanisms.js';

/** Monday morning at the site. */
const startMs = Date.UTC(2026, 1, 2, 5);
const hourMinutes = 60;

/** Shares of cases. Source: design decision. */
const share = {
  twoOrigins: 0.05,
  unsent: 0.07,
  outage: 0.15,
  disordered: 0.5,
  fewChannels: 0.2,
  noHours: 0.15,
  noSeverity: 0.35,
  noLimit: 0.4,
  coldSite: 0.2,
};

interface Part {
  readonly plan: MechanismPlan;
  readonly codes: readonly [CaseCode, ...CaseCode[]];
  readonly fromMinute: number;
}

const everyChannel: readonly ChannelName[] = [
  'engineSpeedRpm',
  'engineLoadPct',
  'exhaustTempC',
  'coolantTempC',
  'ambientTempC',
  'fuelRateLPerH',
  'engineHours',
  'defLevelPct',
  'scrInletTempC',
  'turbineOutTempC',
  'oilTempC',
  'intakeManifoldTempC',
  'defConcentrationPct',
  'defPropertyState',
  'defTempC',
  'defTankHeaterPct',
  'defDosingGPerH',
  'noxInPpm',
  'noxOutPpm',
  'dpfSootPct',
  'airFilterDeltaPressureKPa',
  'batteryV',
  'torqueLimitPct',
  'inducementSeverity',
];
/** What a plain gateway sends. */
const fewChannels = 8;

/**
 * One case; the same seed gives the same.
 *
 * Gaps from fault to derate go by a family of schedules, with spread, by the tank or by chance; one machine in eight has times
 * of its own. Channels are absent, lists and whole stretches are lost, codes without any bearing come and go. In some cases
 * the origin was never sent: the right answer is then that nobody knows.
 */
export function makeDerateCase(seed: number): DerateCase {
  const random = createRandom(seedFrom('derate-case', seed));
  const drawn = drawCase(random);
  const { family, parts, frame, drive, isLost, channels } = drawn;
  const machineId = `case-${seed}`;
  const failedLevelPct = levelFailure(parts, random);
  const spans = spansOf(drawn, failedLevelPct, random);
  const samples = signalsOf({ machineId, drive, isLost, channels, failedLevelPct, ...derateOf(drawn, random) }, random);
  const reports = reportsOf(
    {
      machineId,
      drive,
      spans,
      derateMinute: frame.derateMinute,
      lossRatio: random.next() < 0.5 ? 0 : random.between(0, 0.4),
      isLost,
      hasEmptyLists: random.next() < 0.6,
      isDisordered: random.next() < share.disordered,
    },
    random,
  );
  const timeOf = (minute: number) => (drive[Math.min(minute, drive.length - 1)] as EngineMinute).timeMs;
  const isOriginSent = parts.some(({ codes: own }) =>
    reports.some(({ codes }) => codes.some((code) => isOneOf(code, own))),
  );
  return {
    seed,
    machineId,
    profile: { site: 'Skarnfell quarry', timeZone: 'Europe/Oslo', ratedPowerKW: 200 },
    samples,
    reports,
    truth: {
      origins: parts.map(({ plan, codes, fromMinute }) => ({
        mechanism: plan.mechanism,
        codes,
        startedMs: timeOf(fromMinute),
      })),
      derateStartedMs: timeOf(frame.derateMinute),
      gapH: (frame.derateMinute - drawn.originMinute) / hourMinutes,
      family: drawn.plan.pace.by === 'schedule' ? family : null,
      isOriginSent,
    },
  };
}

interface DrawnCase {
  readonly family: ScheduleFamily;
  readonly plan: MechanismPlan;
  readonly originMinute: number;
  readonly frame: CodeFrame;
  readonly drive: readonly EngineMinute[];
  readonly parts: readonly Part[];
  readonly isSent: boolean;
  readonly isLost: (minute: number) => boolean;
  readonly channels: ReadonlySet<ChannelName>;
  readonly hasSeverity: boolean;
}

function drawCase(random: Random): DrawnCase {
  const family = drawFamily(random);
  const plan = drawPlan(random);
  const gapMinutes = Math.max(1, Math.round(drawGapH(plan, family, random) * hourMinutes));
  const originMinute = Math.round(random.between(4, 12) * hourMinutes);
  const derateMinute = originMinute + gapMinutes;
  const minutes = derateMinute + Math.round(random.between(0.7, 2.5) * hourMinutes);
  const frame: CodeFrame = { minutes, derateMinute, aftertreatment: drawAftertreatmentAddress(random) };
  const drive = driveOf(random, minutes, startMs);
  const parts = partsOf({ plan, fromMinute: originMinute, family, frame, random });
  const isSent = random.next() >= share.unsent;
  const isLost = outageOf(frame, originMinute, random);
  return { family, plan, originMinute, frame, drive, parts, isSent, isLost, ...drawChannels(random) };
}

/** Every code of a case: the origin's and what follows from it, the derate's own, and what has no bearing. */
function spansOf(drawn: DrawnCase, failedLevelPct: number | null, random: Random): CodeSpan[] {
  const { parts, isSent, frame, plan, hasSeverity, originMinute: fromMinute } = drawn;
  const told = isSent ? parts : [];
  return [
    ...told.flatMap((part) => originSpans(part.codes, part.fromMinute, frame, random)),
    ...told.flatMap((part) => consequenceSpans(part.plan, part.fromMinute, frame, random)),
    ...feignedLevel(told, failedLevelPct, frame, random),
    ...distractorSpans(frame, random),
    ...derateSpans({ frame, isInducement: plan.isInducement, hasSeverity, fromMinute, random }),
  ];
}

/** How the derate shows in signals, and the air around the machine. */
function derateOf({ parts, plan, frame }: DrawnCase, random: Random) {
  const isFrozen = parts.some((part) => part.plan.mechanism === 'frozen');
  return {
    troubles: parts.map((part) => ({ mechanism: part.plan.mechanism, fromMinute: part.fromMinute, ...part.codes[0] })),
    derateMinute: frame.derateMinute,
    isInducement: plan.isInducement,
    torqueRatio: random.next() < 0.7 ? random.between(0.68, 0.8) : random.between(0.4, 0.6),
    severity: random.next() < 0.7 ? 3 : 5,
    warnsAfterRatio: drawWarning(random),
    ambientC: isFrozen ? random.between(-25, -14) : drawAmbient(random),
  };
}

function isOneOf(code: CaseCode, codes: readonly CaseCode[]): boolean {
  return codes.some(({ spn, fmi }) => spn === code.spn && fmi === code.fmi);
}

function drawFamily(random: Random): ScheduleFamily {
  const draw = random.next();
  return draw < 0.12 ? 'own' : pick(random, scheduleFamilies.slice(0, 4));
}

function drawPlan(random: Random): MechanismPlan {
  let left = random.next() * mechanismPlans.reduce((sum, { weight }) => sum + weight, 0);
  for (const plan of mechanismPlans) {
    left -= plan.weight;
    if (left < 0) return plan;
  }
  return mechanismPlans[0] as MechanismPlan;
}

function drawGapH({ pace }: MechanismPlan, family: ScheduleFamily, random: Random): number {
  if (pace.by === 'chance') return pace.leastH * (pace.mostH / pace.leastH) ** random.next();
  if (pace.by === 'tank') return random.between(0.8, 9);
  // The controller's own confirming and rounding come on top of the schedule.
  const stepH =
    family === 'own' ? Math.exp(random.between(Math.log(0.7), Math.log(45))) : familySteps[family][pace.steps];
  return stepH * Math.exp(0.12 * random.normal()) + random.between(0, 0.3);
}

/** One origin, or in a few cases two that would each have led to it at about the same time. */
function partsOf(of: {
  plan: MechanismPlan;
  fromMinute: number;
  family: ScheduleFamily;
  frame: CodeFrame;
  random: Random;
}): Part[] {
  const { plan, fromMinute, frame, random } = of;
  const parts: Part[] = [{ plan, codes: pick(random, plan.reportedAs), fromMinute }];
  if (random.next() >= share.twoOrigins) return parts;
  const others = mechanismPlans.filter(
    (other) =>
      other.isInducement === plan.isInducement && other.mechanism !== plan.mechanism && other.pace.by === plan.pace.by,
  );
  if (others.length === 0) return parts;
  const other = pick(random, others);
  const offMinutes = Math.round((frame.derateMinute - fromMinute) * random.between(-0.1, 0.1));
  return [
    ...parts,
    { plan: other, codes: pick(random, other.reportedAs), fromMinute: Math.max(1, fromMinute + offMinutes) },
  ];
}

/** A failed level sensor reads nothing, full, or what it last read. */
function levelFailure(parts: readonly Part[], random: Random): number | null {
  if (!parts.some((part) => part.plan.mechanism === 'level-sensor')) return null;
  const draw = random.next();
  return draw < 0.5 ? 0 : draw < 0.7 ? 100 : null;
}

/** A level that reads nothing is told of as an empty tank as well. */
function feignedLevel(parts: readonly Part[], levelPct: number | null, frame: CodeFrame, random: Random): CodeSpan[] {
  const part = parts.find(({ plan }) => plan.mechanism === 'level-sensor');
  if (part === undefined || levelPct !== 0 || random.next() < 0.3) return [];
  const fromMinute = part.fromMinute + Math.round(random.between(0, 15));
  return [
    { spn: 1761, fmi: 1, sourceAddress: frame.aftertreatment, fromMinute, toMinute: frame.minutes + 1, isLit: true },
  ];
}

/** Codes that say that power is taken, and from inducements the warning before it. */
function derateSpans(of: {
  frame: CodeFrame;
  isInducement: boolean;
  hasSeverity: boolean;
  fromMinute: number;
  random: Random;
}): CodeSpan[] {
  const { frame, isInducement, hasSeverity, fromMinute, random } = of;
  const { derateMinute, minutes } = frame;
  const span = (spn: number, fmi: number, from: number, to = minutes + 1): CodeSpan => ({
    spn,
    fmi,
    sourceAddress: 0,
    fromMinute: from,
    toMinute: to,
    isLit: true,
  });
  const hasInducementCode = isInducement && random.next() < 0.6;
  const spans: CodeSpan[] = [];
  if (hasInducementCode) spans.push(span(5246, 15, fromMinute + 1, derateMinute), span(5246, 16, derateMinute));
  const isTold = hasInducementCode || (isInducement && hasSeverity);
  if (!isTold || random.next() < 0.7) spans.push(span(1569, 31, derateMinute + Math.round(random.between(0, 3))));
  return spans;
}

/** In some cases the gateway is out of reach for hours, now and then just when the fault comes. */
function outageOf(frame: CodeFrame, originMinute: number, random: Random): (minute: number) => boolean {
  if (random.next() >= share.outage) return () => false;
  const length = random.between(0.5, 6) * hourMinutes;
  const isAtOrigin = random.next() < 0.5;
  const from = isAtOrigin ? originMinute - random.next() * length : random.next() * frame.minutes;
  const to = Math.min(from + length, frame.minutes - 20);
  return (minute) => minute >= from && minute < to;
}

function drawChannels(random: Random): { channels: ReadonlySet<ChannelName>; hasSeverity: boolean } {
  const channels = new Set(random.next() < share.fewChannels ? everyChannel.slice(0, fewChannels) : everyChannel);
  for (const channel of everyChannel.slice(fewChannels)) if (random.next() < 0.12) channels.delete(channel);
  if (random.next() < share.noHours) channels.delete('engineHours');
  if (random.next() < share.noSeverity) channels.delete('inducementSeverity');
  if (random.next() < share.noLimit) channels.delete('torqueLimitPct');
  return { channels, hasSeverity: channels.has('inducementSeverity') };
}

/** Half of the machines warn at once, some later, some only take the power. */
function drawWarning(random: Random): number {
  const draw = random.next();
  return draw < 0.5 ? 0 : draw < 0.75 ? random.between(0.05, 0.6) : 2;
}

function drawAmbient(random: Random): number {
  return random.next() < share.coldSite ? random.between(-12, 2) : random.between(5, 32);
}
