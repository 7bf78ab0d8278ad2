/** What a person is told of an alert: title, one sentence with the figures, advice and what to mind. */

import type { FindingKind, FindingValue } from '@warmbrick/analysis';
import type { Alert, AlertStep, AlertWords } from './alert.js';
import { figureOf } from './figures.js';
import { isOnFigure, isOnFinding, isOnRise, isOnSilence, type Rule } from './rule.js';
import { wallTime } from './shift-calendar.js';

type Figures = Readonly<Record<string, FindingValue>>;

/** The words of an alert after a step. Missing: a rule that is gone leaves its id as the title. */
export function wordsOf(rule: Rule | null, alert: Alert, step: AlertStep): AlertWords {
  const { group } = alert;
  const place = group.site === null ? group.machineName : `${group.machineName}, ${group.site}`;
  const since = wallTime(group.timeZone, alert.startedMs);
  const what = rule === null ? '' : ` ${sentenceOf(rule, alert)}`;
  const until =
    alert.endedMs === null || alert.endedMs === alert.startedMs ? '' : ` to ${wallTime(group.timeZone, alert.endedMs)}`;
  const when = `${alert.endedMs === null ? 'Since' : 'At'} ${since}${until} (${group.timeZone}).`;
  return {
    title: rule?.title ?? alert.ruleId,
    text: `${place}:${what} ${when}${lateWords(alert)}${stepWords(step)}`,
    advice: rule?.advice ?? null,
    caution: rule?.caution ?? null,
  };
}

function lateWords({ isPast, isWithdrawn }: Alert): string {
  if (isWithdrawn) return '';
  return isPast ? ' This is about the past: the data came late.' : '';
}

const afterStep: Partial<Record<AlertStep, string>> = {
  unknown: 'No data since then: whether it still holds is not known.',
  known: 'Data comes again, and it still holds.',
  closed: 'It is over.',
  corrected: 'Corrected by data that came late.',
  withdrawn: 'Withdrawn: with the data that came late it never was.',
  reopened: 'It goes on, other than was told before.',
  'caught-up': 'It still holds now.',
  escalated: 'Nobody has acknowledged it so far.',
};

function stepWords(step: AlertStep): string {
  const words = afterStep[step];
  return words === undefined ? '' : ` ${words}`;
}

function sentenceOf({ when, title }: Rule, { figures }: Alert): string {
  if (isOnFinding(when)) return (byKind[when.finding] ?? general)(figures) || `${title}.`;
  if (isOnFigure(when)) {
    const figure = figureOf(when.figure);
    return `${figure?.words ?? when.figure} at ${withUnit(figures[when.figure], figure?.unit)} (limit ${figures.level}).`;
  }
  if (isOnRise(when)) {
    const figure = figureOf(when.rising);
    const by = withUnit(figures.risenBy, figure?.unit);
    return `${figure?.words ?? when.rising} risen by ${by} within ${duration(when.withinS)}, now at ${figures[when.rising]}.`;
  }
  return isOnSilence(when) ? `nothing heard for ${duration(when.silentS)}.` : `${title}.`;
}

const byKind: Partial<Record<FindingKind, (figures: Figures) => string>> = {
  'idle-streak': (f) => `idling for ${duration(f.durationS)}${f.fuelL === null ? '' : `, ${f.fuelL} L of fuel`}.`,
  'cold-dwell': (f) =>
    `too cold for ${duration(f.durationS)}, mean ${f.meanTempC ?? '?'} C of ${f.windowLowC} C wanted.`,
  'hot-shutdown': (f) => `switched off after ${duration(f.cooldownS)} of cool-down; ${duration(f.wantedS)} wanted.`,
  'early-load': (f) =>
    `loaded to ${f.loadPct ?? '?'} % after ${duration(f.warmupS)} of warm-up; ${duration(f.wantedS)} wanted.`,
  'def-low': (f) => `DEF at ${f.levelPct} %, about ${f.litres} L.`,
  'def-empty-forecast': (f) =>
    f.hours === null
      ? 'DEF forecast missing.'
      : `DEF down to ${f.limitPct} % in about ${f.hours} h (${f.hoursLow} to ${f.hoursHigh ?? 'more'} h).`,
  'def-drop': (f) => `about ${f.litres} L of DEF gone, from ${f.levelBeforePct} % to ${f.levelAfterPct} %.`,
  'def-frost': (f) =>
    f.advice === 'burst-risk'
      ? `DEF tank ${f.levelPct} % full, and frost down to ${f.coldestC} C: it may burst.`
      : `DEF tank ${f.levelPct} % full, and frost down to ${f.coldestC} C.`,
  'def-quality': (f) => `DEF measured at ${f.concentrationPct ?? '?'} % urea; ${f.lowPct} to ${f.highPct} % wanted.`,
  'def-consumption': (f) =>
    `${f.direction} DEF used than usual: ${f.ratioPct} % of the fuel instead of ${f.baselinePct} %.`,
  'def-heater': (f) => `DEF heater on for ${duration(f.heaterOnS)}, tank at ${f.tankTempC ?? '?'} C.`,
  regeneration: (f) =>
    `regeneration ${f.outcome} after ${duration(f.durationS)}${f.why === null ? '' : ` (${f.why})`}.`,
  'regeneration-inhibited': (f) =>
    `regeneration ${f.why === 'inhibited' ? 'inhibited' : 'not started'} for ${duration(f.durationS)}, soot up to ${f.peakSootPct ?? '?'} %.`,
  derate: (f) =>
    f.leastTorqueRatio === null
      ? 'torque limited.'
      : `torque down to ${percent(f.leastTorqueRatio)}, about ${f.lostPowerKW ?? '?'} kW lost.`,
  'inducement-step': (f) => {
    const which = `${f.about} (${f.fault ?? 'fault'}), schedule ${f.schedule}${f.fromMemory === true ? ', from memory' : ''}`;
    const when =
      f.isReached === true
        ? 'the final step is due'
        : f.hoursLeft === null
          ? `the next step comes at ${f.atLevelPct} % DEF`
          : `${f.isFinal === true ? 'the final' : 'the next'} step comes in about ${f.hoursLeft} engine hours`;
    return `${which}: ${when}: ${f.step}. Cleared by: ${f.clears}.`;
  },
  'service-overdue': (f) => `${f.name} overdue by ${f.dueBy}.`,
  'nox-conversion': (f) =>
    `NOx conversion ${f.conversionPct} % instead of ${f.baselinePct} % between ${f.binLowC} and ${f.binHighC} C.`,
  'air-filter': (f) => `air filter at ${f.restrictionKPa} kPa of ${f.limitKPa} kPa.`,
  'sensor-suspect': (f) => `${f.channel} is suspect (${f.why}).`,
};

/** Kinds without words of their own: their first figures. */
function general(figures: Figures): string {
  const shown = Object.entries(figures).filter(([, value]) => value !== null);
  return shown.length === 0
    ? ''
    : `${shown
        .slice(0, 4)
        .map(([name, value]) => `${name} ${value}`)
        .join(', ')}.`;
}

function percent(ratio: FindingValue | undefined): string {
  return typeof ratio === 'number' ? `${Math.round(100 * ratio)} %` : '?';
}

function withUnit(value: FindingValue | undefined, unit: string | undefined): string {
  return unit === undefined || unit === '' ? `${value ?? '?'}` : `${value ?? '?'} ${unit}`;
}

function duration(value: FindingValue | undefined): string {
  if (typeof value !== 'number') return '?';
  if (value < 120) return `${Math.round(value)} s`;
  const minutes = Math.round(value / 60);
  if (minutes < 120) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  const rest = (value: number, unit: string) => (value === 0 ? '' : ` ${value} ${unit}`);
  if (hours < 48) return `${hours} h${rest(minutes % 60, 'min')}`;
  return `${Math.floor(hours / 24)} d${rest(hours % 24, 'h')}`;
}
