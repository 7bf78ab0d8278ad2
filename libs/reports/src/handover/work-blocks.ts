/** What the machine did, on paper. */

import type { HandoverDocument } from '@warmbrick/contracts';
import type { PrintBlock, PrintColumn } from '../print/print-sheet.js';
import { lengthText, type WriteTime } from './sheet-clock.js';

interface Section {
  readonly title: string;
  readonly heads: readonly string[];
  readonly rows: string[][];
  /** What to call it where there was none of it. */
  readonly none: string;
}

/** Runs, regenerations, DEF, other findings and service; what did not occur is one sentence. */
export function workBlocks(document: HandoverDocument, written: WriteTime): PrintBlock[] {
  const sections = [
    ...runSections(document, written),
    ...defSections(document, written),
    serviceSection(document, written),
  ];
  const absent = sections.filter(({ rows }) => rows.length === 0).map(({ none }) => none);
  return [
    { kind: 'heading', level: 2, text: 'What the machine did' },
    ...sections.filter(({ rows }) => rows.length > 0).map(tableOf),
    ...(absent.length === 0
      ? []
      : [{ kind: 'text', text: `Not seen or not recorded: ${absent.join(', ')}.` } as const]),
  ];
}

function runSections({ runs, regenerations, otherFindings }: HandoverDocument, written: WriteTime): Section[] {
  return [
    {
      title: 'Runs by day',
      heads: ['day', 'runs', 'ran', 'of it idle'],
      rows: runs.byDay.map(({ day, runs: count, runningS, idleS }) => [
        day,
        String(count),
        lengthText(runningS),
        lengthText(idleS),
      ]),
      none: 'runs of the engine',
    },
    {
      title: 'Regenerations',
      heads: ['from', 'to', 'outcome', 'soot before and after', 'hottest inlet'],
      rows: regenerations.map((one) => [
        written(one.startedAt),
        openEnd(one.endedAt, written),
        one.outcome,
        `${percent(one.sootBeforePct)} to ${percent(one.sootAfterPct)}`,
        one.peakInletTempC === null ? '-' : `${one.peakInletTempC} \u00b0C`,
      ]),
      none: 'active regenerations',
    },
    {
      title: 'Other findings',
      heads: ['what', 'times', 'gravest'],
      rows: otherFindings.map(({ what, count, worst }) => [what, String(count), worst]),
      none: 'other findings',
    },
  ];
}

function defSections({ defFills, defFindings }: HandoverDocument, written: WriteTime): Section[] {
  return [
    {
      title: 'DEF fills',
      heads: ['when', 'litres', 'level before', 'level after'],
      rows: defFills.map((fill) => [
        written(fill.at),
        fill.litres.toFixed(1),
        percent(fill.levelBeforePct),
        percent(fill.levelAfterPct),
      ]),
      none: 'DEF fills',
    },
    {
      title: 'DEF: level, quality, frost',
      heads: ['from', 'to', 'what', 'figures'],
      rows: defFindings.map((one) => [written(one.startedAt), openEnd(one.endedAt, written), one.what, one.figures]),
      none: 'anything wrong with the DEF',
    },
  ];
}

function serviceSection({ service }: HandoverDocument, written: WriteTime): Section {
  return {
    title: 'Service done',
    heads: ['when', 'engine hours', 'what', 'by', 'note'],
    rows: (service ?? []).map((done) => [
      written(done.at),
      done.engineHours === null ? '-' : done.engineHours.toFixed(1),
      done.what,
      done.by ?? '-',
      done.note ?? '',
    ]),
    none: 'service work',
  };
}

function openEnd(at: string | null, written: WriteTime): string {
  return at === null ? 'still going on' : written(at);
}

/** Columns with a wide text; all others are narrow. */
const wide = new Set(['what', 'figures', 'outcome', 'note', 'soot before and after']);

function tableOf({ title, heads, rows }: Section): PrintBlock {
  const columns: PrintColumn[] = heads.map((head) => ({ head, share: wide.has(head) ? 4 : 2 }));
  return { kind: 'table', title, columns, rows };
}

function percent(value: number | null): string {
  return value === null ? '-' : `${value} %`;
}
