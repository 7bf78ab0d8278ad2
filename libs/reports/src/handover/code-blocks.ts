/** Fault codes on paper: all of them in one table, then each with its times and signals. */

import type { HandoverCode, HandoverDocument } from '@warmbrick/contracts';
import type { PrintBlock } from '../print/print-sheet.js';
import { codeText, endText, lampText, roleText } from './code-words.js';
import type { WriteTime } from './sheet-clock.js';
import { windowBlock } from './window-block.js';

/** Every code by occurrence, and the details of those of the period. */
export function codeBlocks({ codes }: HandoverDocument, written: WriteTime): PrintBlock[] {
  const blocks: PrintBlock[] = [{ kind: 'heading', level: 2, text: 'Fault codes' }];
  if (codes.length === 0) return [...blocks, { kind: 'text', text: 'None is known of this machine.' }];
  blocks.push(codeTable(codes, written));
  const detailed = codes.filter(({ occurrencesInPeriod }) => occurrencesInPeriod > 0);
  if (detailed.length > 0) blocks.push({ kind: 'heading', level: 2, text: 'Codes of the period, one by one' });
  for (const code of detailed) blocks.push(...codeDetail(code, written));
  return blocks;
}

function codeTable(codes: readonly HandoverCode[], written: WriteTime): PrintBlock {
  const rank = ({ occurrences, reportedCount }: HandoverCode) => Math.max(occurrences, reportedCount ?? 0);
  const byOccurrence = [...codes].sort((a, b) => rank(b) - rank(a) || (a.lastAt < b.lastAt ? 1 : -1));
  return {
    kind: 'table',
    title: 'Every code that is known of the machine, by how often it occurred',
    columns: [
      { head: 'no.', share: 1.1 },
      { head: 'SPN', share: 1.4, isNumber: true },
      { head: 'FMI', share: 1, isNumber: true },
      { head: 'addr.', share: 1.1, isNumber: true },
      { head: 'in words', share: 6 },
      { head: 'times seen', share: 1.2, isNumber: true },
      { head: 'its own count', share: 1.3, isNumber: true },
      { head: 'first', share: 2.9 },
      { head: 'last', share: 2.9 },
    ],
    rows: byOccurrence.map((code) => [
      code.number,
      String(code.spn),
      String(code.fmi),
      code.sourceAddress === null ? '-' : String(code.sourceAddress),
      `${codeText(code)}${code.isConsequence ? ' [says that power is taken, not why]' : ''}${code.isActive ? ' [still active]' : ''}`,
      String(code.occurrences),
      code.reportedCount === null ? '-' : String(code.reportedCount),
      written(code.firstAt),
      written(code.lastAt),
    ]),
  };
}

function codeDetail(code: HandoverCode, written: WriteTime): PrintBlock[] {
  const { number, spn, fmi, times, notes, windows, occurrencesInPeriod } = code;
  const blocks: PrintBlock[] = [
    { kind: 'heading', level: 3, text: `${number}: SPN ${spn} FMI ${fmi}, ${codeText(code)}` },
    { kind: 'text', text: factsLine(code), isQuiet: true },
  ];
  const [only] = times;
  if (only !== undefined && times.length === 1) blocks.push({ kind: 'text', text: timeLine(only, written) });
  else
    blocks.push({
      kind: 'table',
      title:
        occurrencesInPeriod > times.length ? `Its newest ${times.length} of ${occurrencesInPeriod} times` : 'Its times',
      columns: [
        { head: 'from', share: 3 },
        { head: 'to', share: 4 },
        { head: 'last told of', share: 3 },
        { head: 'told by', share: 3 },
      ],
      rows: times.map((time) => [
        written(time.startedAt),
        endText(time, written),
        written(time.lastSeenAt),
        originWords[time.origin],
      ]),
    });
  if (notes.length > 0) {
    const typed = ({ at, typedBy, note }: HandoverCode['notes'][number]) =>
      `${written(at)}${typedBy === null ? '' : `, ${typedBy}`}: ${note}`;
    blocks.push({ kind: 'list', items: notes.map(typed) });
  }
  for (const window of windows) blocks.push(windowBlock(`Signals around ${written(window.at)}`, window));
  return blocks;
}

function timeLine(time: HandoverCode['times'][number], written: WriteTime): string {
  const end = endText(time, written);
  const to = time.isPreviouslyActiveOnly || time.endedAt === null ? `, ${end}` : ` to ${end}`;
  return `${written(time.startedAt)}${to}; last told of ${written(time.lastSeenAt)} by ${originWords[time.origin]}.`;
}

const originWords: Readonly<Record<HandoverCode['times'][number]['origin'], string>> = {
  dm1: 'a list of active codes (DM1)',
  dm2: 'a list of previously active codes (DM2)',
  event: 'a message',
  feed: 'a standard feed (ISO 15143-3)',
  typed: 'hand',
};

function factsLine(code: HandoverCode): string {
  const { sourceAddress, reportedCount, lamps } = code;
  const role = roleText(code);
  return [
    sourceAddress === null ? 'controller not said' : `controller ${sourceAddress}`,
    `lamps: ${lampText(lamps)}`,
    reportedCount === null ? 'the controller does not count' : `the controller counts ${reportedCount}`,
    ...(role === '' ? [] : [role]),
  ].join('; ');
}
