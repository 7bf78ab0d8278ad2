/** What the machine did, on paper. */

import type { HandoverDocument } from '@warmbrick/contracts';
import type { PrintBlock, PrintColumn } from '../print/print-sheet.js';
import { lengthText, type WriteTime } from './sheet-clock.js';

/** Runs, regenerations, DEF, other findings and service. */
export function workBlocks(document: HandoverDocument, written: WriteTime): PrintBlock[] {
  const { runs, regenerations, defFills, defFindings, otherFindings, service } = document;
  const open = (at: string | null) => (at === null ? 'still going on' : written(at));
  return [
    { kind: 'heading', level: 2, text: 'What the machine did' },
    ...section('Runs by day', ['day', 'runs', 'ran', 'of it idle'], {
      rows: runs.byDay.map(({ day, runs: count, runningS, idleS }) => [
        day,
        String(count),
        lengthText(runningS),
        lengthText(idleS),
      ]),
      none: 'It was not seen running.',
    }),
    ...section('Regenerations', ['from', 'to', 'outcome', 'soot before and after', 'hottest inlet'], {
      rows: regenerations.map((one) => [
        written(one.startedAt),
        open(one.endedAt),
        one.outcome,
        `${percent(one.sootBeforePct)} to ${percent(one.sootAfterPct)}`,
        one.peakInletTempC === null ? '-' : `${one.peakInletTempC} \u00b0C`,
      ]),
      none: 'No active regeneration was seen.',
    }),
    ...section('DEF fills', ['when', 'litres', 'level before', 'level after'], {
      rows: defFills.map((fill) => [
        written(fill.at),
        fill.litres.toFixed(1),
        percent(fill.levelBeforePct),
        percent(fill.levelAfterPct),
      ]),
      none: 'No fill was seen.',
    }),
    ...section('DEF: level, quality, frost', ['from', 'to', 'what', 'figures'], {
      rows: defFindings.map((one) => [written(one.startedAt), open(one.endedAt), one.what, one.figures]),
      none: 'Nothing wrong was found.',
    }),
    ...section('Other findings', ['what', 'times', 'gravest'], {
      rows: otherFindings.map(({ what, count, worst }) => [what, String(count), worst]),
      none: 'None.',
    }),
    ...section('Service done', ['when', 'engine hours', 'what', 'by', 'note'], {
      rows: (service ?? []).map((done) => [
        written(done.at),
        done.engineHours === null ? '-' : done.engineHours.toFixed(1),
        done.what,
        done.by ?? '-',
        done.note ?? '',
      ]),
      none: service === null ? 'No record was at hand.' : 'None is recorded in this period.',
    }),
  ];
}

/** Columns with a wide text; all others are narrow. */
const wide = new Set(['what', 'figures', 'outcome', 'note', 'soot before and after']);

function section(
  title: string,
  heads: readonly string[],
  { rows, none }: { rows: string[][]; none: string },
): PrintBlock[] {
  if (rows.length === 0) {
    return [
      { kind: 'heading', level: 3, text: title },
      { kind: 'text', text: none },
    ];
  }
  const columns: PrintColumn[] = heads.map((head) => ({ head, share: wide.has(head) ? 4 : 2 }));
  return [{ kind: 'table', title, columns, rows }];
}

function percent(value: number | null): string {
  return value === null ? '-' : `${value} %`;
}
