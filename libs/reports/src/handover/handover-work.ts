/** What the machine did in the period: hours, runs, regenerations, DEF; and whatever else was found. */

import {
  type Finding,
  type FindingKind,
  type FindingValue,
  type ResidencyRow,
  residencySums,
  type Severity,
  severities,
} from '@warmbrick/analysis';
import { type HandoverDocument, toInstant } from '@warmbrick/contracts';
import { dayOf } from './sheet-clock.js';

type Work = Pick<HandoverDocument, 'runs' | 'regenerations' | 'defFills' | 'defFindings' | 'otherFindings'>;

/** Kinds that tell of DEF; each in its own words. */
const defWords: Readonly<Partial<Record<FindingKind, string>>> = {
  'def-drop': 'DEF gone that dosing does not explain',
  'def-low': 'DEF low',
  'def-empty-forecast': 'DEF about to run low',
  'def-consumption': 'DEF use against fuel changed',
  'def-quality': 'DEF outside its limits',
  'def-frost': 'DEF tank at a wrong level for frost',
  'def-heater': 'DEF tank heater without effect',
};
/** Kinds that have a section of their own. */
const toldElsewhere: readonly FindingKind[] = [
  'engine-run',
  'regeneration',
  'def-fill',
  'derate',
  'data-gap',
  'inducement-step',
];

/** Sums up the findings of a period; days are those of the zone that the sheet is printed in. */
export function handoverWork(findings: readonly Finding[], timeZone: string): Work {
  const inOrder = [...findings].sort((a, b) => a.startedMs - b.startedMs || (a.id < b.id ? -1 : 1));
  const ofKind = (kind: FindingKind) => inOrder.filter((finding) => finding.kind === kind);
  return {
    runs: runsOf(ofKind('engine-run'), timeZone),
    regenerations: ofKind('regeneration').map((finding) => ({
      startedAt: toInstant(finding.startedMs),
      endedAt: finding.endedMs === null ? null : toInstant(finding.endedMs),
      outcome: [finding.values.outcome, finding.values.why].filter(isText).join(', ').replaceAll('-', ' '),
      durationS: numberOf(finding.values.durationS) ?? 0,
      sootBeforePct: numberOf(finding.values.sootBeforePct),
      sootAfterPct: numberOf(finding.values.sootAfterPct),
      peakInletTempC: numberOf(finding.values.peakInletTempC),
    })),
    defFills: ofKind('def-fill').map(({ startedMs, values }) => ({
      at: toInstant(startedMs),
      litres: numberOf(values.litres) ?? 0,
      levelBeforePct: numberOf(values.levelBeforePct) ?? 0,
      levelAfterPct: numberOf(values.levelAfterPct) ?? 0,
    })),
    defFindings: inOrder.flatMap((finding) => {
      const what = defWords[finding.kind];
      if (what === undefined) return [];
      const { startedMs, endedMs, values } = finding;
      const endedAt = endedMs === null ? null : toInstant(endedMs);
      return [{ startedAt: toInstant(startedMs), endedAt, what, figures: figuresText(values) }];
    }),
    otherFindings: othersOf(
      inOrder.filter(({ kind }) => defWords[kind] === undefined && !toldElsewhere.includes(kind)),
    ),
  };
}

function runsOf(runs: readonly Finding[], timeZone: string): Work['runs'] {
  const days = new Map<string, { day: string; runs: number; runningS: number; idleS: number }>();
  for (const { startedMs, values } of runs) {
    const day = dayOf(startedMs, timeZone);
    const known = days.get(day) ?? { day, runs: 0, runningS: 0, idleS: 0 };
    known.runs++;
    known.runningS += numberOf(values.durationS) ?? 0;
    known.idleS += numberOf(values.idleS) ?? 0;
    days.set(day, known);
  }
  return { count: runs.length, byDay: [...days.values()] };
}

function othersOf(findings: readonly Finding[]): Work['otherFindings'] {
  const byKind = new Map<string, { what: string; count: number; worst: Severity }>();
  for (const { kind, severity } of findings) {
    const known = byKind.get(kind) ?? { what: kind.replaceAll('-', ' '), count: 0, worst: severity };
    known.count++;
    if (severities.indexOf(severity) > severities.indexOf(known.worst)) known.worst = severity;
    byKind.set(kind, known);
  }
  return [...byKind.values()].sort((a, b) => b.count - a.count || (a.what < b.what ? -1 : 1));
}

/** Sums of the rows of a period; null when there are none. */
export function sumOfRows(rows: readonly ResidencyRow[]): HandoverDocument['hours']['residency'] {
  if (rows.length === 0) return null;
  const total = (name: (typeof residencySums)[number]) => rows.reduce((sum, row) => sum + row[name], 0);
  const warmest = rows.flatMap(({ maxExhaustTempC }) => (maxExhaustTempC === null ? [] : [maxExhaustTempC]));
  return {
    ...(Object.fromEntries(residencySums.map((name) => [name, Math.round(total(name) * 1000) / 1000])) as Record<
      (typeof residencySums)[number],
      number
    >),
    maxExhaustTempC: warmest.length === 0 ? null : Math.max(...warmest),
  };
}

/** Named figures as "level 8 %, limit 10 %"; the unit is read off the end of the name. */
function figuresText(values: Readonly<Record<string, FindingValue>>): string {
  return Object.entries(values)
    .flatMap(([name, value]) => figureText(name, value))
    .join(', ');
}

/** The same with only those figures that have a unit: counts and flags are in the sentence already. */
export function measuredText(values: Readonly<Record<string, FindingValue>>): string {
  const measured = Object.entries(values).filter(
    ([name, value]) =>
      typeof value === 'number' && (name.endsWith('Ratio') || units.some(([ending]) => ending.test(name))),
  );
  return figuresText(Object.fromEntries(measured));
}

const units: readonly (readonly [RegExp, string])[] = [
  [/Pct$/, '%'],
  [/KPa$/, 'kPa'],
  [/KW$/, 'kW'],
  [/Rpm$/, 'rpm'],
  [/Ppm$/, 'ppm'],
  [/GPerH$/, 'g/h'],
  [/Ms$/, ''],
  [/C$/, '\u00b0C'],
  [/L$/, 'L'],
  [/V$/, 'V'],
  [/H$/, 'h'],
  [/S$/, 's'],
];

function figureText(name: string, value: FindingValue): string[] {
  if (value === null || value === false) return [];
  const found = units.find(([pattern]) => pattern.test(name));
  const label = (found === undefined ? name : name.replace(found[0], ''))
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .toLowerCase();
  if (value === true) return [label];
  if (typeof value === 'string') return [`${label} ${value.replaceAll('-', ' ')}`];
  if (name.endsWith('Ms')) return [`${label} ${new Date(value).toISOString()}`];
  if (name.endsWith('Ratio')) return [`${label.replace(/ ratio$/, '')} ${Math.round(value * 1000) / 10} %`];
  return [`${label} ${Math.round(value * 100) / 100}${found === undefined ? '' : ` ${found[1]}`}`];
}

function numberOf(value: FindingValue | undefined): number | null {
  return typeof value === 'number' ? value : null;
}

function isText(value: FindingValue | undefined): value is string {
  return typeof value === 'string' && value !== '';
}
