/** The sheet as one table: a row for each fact, for spreadsheets and other programs. */

import type { HandoverCode, HandoverDerate, HandoverDocument } from '@warmbrick/contracts';
import { codeText, lampText } from './code-words.js';

/** Columns of every row; what a row has not is blank. */
const columns = [
  'section',
  'number',
  'from',
  'to',
  'spn',
  'fmi',
  'sourceAddress',
  'what',
  'name',
  'value',
  'unit',
] as const;
type Row = Partial<Record<(typeof columns)[number], string | number | null>>;

/**
 * The sheet as CSV: RFC 4180, UTF-8, times in UTC.
 *
 * A text that a spreadsheet would take for a formula has an apostrophe before it. Source: OWASP, CSV injection.
 */
export function handoverCsv(document: HandoverDocument): string {
  const rows: Row[] = [
    ...headRows(document),
    ...document.inShort.map((what) => ({ section: 'in-short', what })),
    ...document.derates.flatMap(derateRows),
    ...document.codes.flatMap(codeRows),
    ...workRows(document),
    ...document.limits.map((what) => ({ section: 'limit', what })),
    ...document.cautions.map((what) => ({ section: 'caution', what })),
  ];
  const lines = rows.map((row) => columns.map((name) => cell(row[name])).join(','));
  return `${[columns.join(','), ...lines].join('\r\n')}\r\n`;
}

function headRows({ machine, period, madeAt, software, thresholdSet, hours, timeZone }: HandoverDocument): Row[] {
  const of = (section: string, name: string, value: string | number | null, unit?: string): Row[] =>
    value === null ? [] : [{ section, name, value, ...(unit === undefined ? {} : { unit }) }];
  return [
    { section: 'sheet', from: period.from, to: period.to, what: machine.label },
    ...of('sheet', 'madeAt', madeAt),
    ...of('sheet', 'software', software),
    ...of('sheet', 'thresholdSet', thresholdSet),
    ...of('sheet', 'timeZone', timeZone),
    ...of('machine', 'machineId', machine.machineId),
    ...of('machine', 'site', machine.site),
    ...of('machine', 'machineClass', machine.machineClass),
    ...of('machine', 'displacement', machine.displacementL, 'L'),
    ...of('machine', 'ratedPower', machine.ratedPowerKW, 'kW'),
    ...of('machine', 'defTank', machine.defTankL, 'L'),
    ...of('hours', 'engineHoursFrom', hours.engineHoursFrom, 'h'),
    ...of('hours', 'engineHoursTo', hours.engineHoursTo, 'h'),
    ...Object.entries(hours.residency ?? {}).flatMap(([name, value]) => of('hours', name, value)),
  ];
}

function derateRows({ number, startedAt: from, endedAt: to, inquiry, ...derate }: HandoverDerate): Row[] {
  const place = { number, from, to };
  const figures = { ...derate, window: null, history: null, signs: derate.signs.join(' ') };
  const told = Object.entries(figures).flatMap(([name, value]) =>
    value === null ? [] : [{ section: 'derate', ...place, name, value }],
  );
  const candidates = (inquiry?.origins ?? []).flatMap((origin): Row[] => {
    const { spn, fmi, sourceAddress, startedAt, endedAt } = origin;
    const one = { number, from: startedAt, to: endedAt, spn, fmi, sourceAddress };
    return [
      {
        section: origin.isOrigin ? 'origin' : 'runner-up',
        ...one,
        what: codeText(origin),
        name: 'likelihood',
        value: origin.likelihood,
      },
      ...origin.evidence.map(({ text, supports, kind }) => ({
        section: supports === null ? 'evidence' : supports ? 'evidence-for' : 'evidence-against',
        ...one,
        what: text,
        name: kind,
      })),
    ];
  });
  const advice = [
    ...(inquiry === null
      ? []
      : [{ section: 'derate', ...place, name: 'summary', what: inquiry.summary, value: inquiry.confidence }]),
    ...(inquiry?.checkFirst ?? []).map((what) => ({ section: 'check-first', ...place, what })),
    ...(inquiry?.doNot ?? []).map((what) => ({ section: 'do-not', ...place, what })),
  ];
  return [...told, ...advice, ...candidates];
}

function codeRows(code: HandoverCode): Row[] {
  const { number, spn, fmi, sourceAddress, firstAt, lastAt } = code;
  const place = { number, spn, fmi, sourceAddress };
  const row = { section: 'code', ...place, from: firstAt, to: lastAt, what: codeText(code) };
  return [
    { ...row, name: 'occurrences', value: code.occurrences },
    { ...row, name: 'occurrencesInPeriod', value: code.occurrencesInPeriod },
    { ...row, name: 'isActive', value: String(code.isActive) },
    { ...row, name: 'lamps', value: lampText(code.lamps) },
    ...code.times.map(({ startedAt, endedAt, origin }) => ({
      section: 'occurrence',
      ...place,
      from: startedAt,
      to: endedAt,
      name: 'origin',
      value: origin,
    })),
    ...code.notes.map(({ at, note, typedBy }) => ({
      section: 'note',
      ...place,
      from: at,
      what: note,
      name: 'typedBy',
      value: typedBy,
    })),
    ...code.windows.flatMap(({ from, stepS, channels }) =>
      channels.flatMap(({ channel, unit, values }) =>
        values.flatMap((value, at) =>
          value === null
            ? []
            : [
                {
                  section: 'signal',
                  ...place,
                  from: new Date(Date.parse(from) + at * stepS * 1000).toISOString(),
                  name: channel,
                  value,
                  unit,
                },
              ],
        ),
      ),
    ),
  ];
}

function workRows({ runs, regenerations, defFills, defFindings, otherFindings, service }: HandoverDocument): Row[] {
  return [
    ...runs.byDay.flatMap(({ day, runs: count, runningS, idleS }) => [
      { section: 'runs', from: day, name: 'runs', value: count },
      { section: 'runs', from: day, name: 'running', value: runningS, unit: 's' },
      { section: 'runs', from: day, name: 'idle', value: idleS, unit: 's' },
    ]),
    ...regenerations.map((one) => ({
      section: 'regeneration',
      from: one.startedAt,
      to: one.endedAt,
      what: one.outcome,
      name: 'duration',
      value: one.durationS,
      unit: 's',
    })),
    ...defFills.map(({ at, litres }) => ({ section: 'def-fill', from: at, name: 'filled', value: litres, unit: 'L' })),
    ...defFindings.map((one) => ({
      section: 'def',
      from: one.startedAt,
      to: one.endedAt,
      what: one.what,
      name: 'figures',
      value: one.figures,
    })),
    ...otherFindings.map(({ what, count, worst }) => ({ section: 'finding', what, name: worst, value: count })),
    ...(service ?? []).map(({ at, what, engineHours, note }) => ({
      section: 'service',
      from: at,
      what: note === null ? what : `${what}: ${note}`,
      name: 'engineHours',
      value: engineHours,
      unit: 'h',
    })),
  ];
}

function cell(value: string | number | null | undefined): string {
  if (value === null || value === undefined) return '';
  if (typeof value === 'number') return String(value);
  const text = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
