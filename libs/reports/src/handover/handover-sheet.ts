/** The handover document as a sheet to print: short answer first, then why, then everything. */

import type { HandoverDocument } from '@warmbrick/contracts';
import type { PrintBlock, PrintSheet } from '../print/print-sheet.js';
import { codeBlocks } from './code-blocks.js';
import { derateBlocks } from './derate-blocks.js';
import { lengthText, timeOf, type WriteTime } from './sheet-clock.js';
import { workBlocks } from './work-blocks.js';

/** The sheet. Times are in the zone of the document, which stands under the title. */
export function handoverSheet(document: HandoverDocument): PrintSheet {
  const { machine, period, timeZone, madeAt, software, thresholdSet, cautions, limits } = document;
  const written: WriteTime = (at) => timeOf(Date.parse(at), timeZone);
  const blocks: PrintBlock[] = [
    { kind: 'heading', level: 2, text: 'In short' },
    { kind: 'list', items: document.inShort },
    { kind: 'caution', text: cautions.join(' ') },
    { kind: 'heading', level: 2, text: 'Machine and period' },
    { kind: 'facts', rows: machineFacts(document, written) },
    { kind: 'heading', level: 2, text: 'How to read this sheet' },
    ...readingGuide,
    ...derateBlocks(document, written),
    ...codeBlocks(document, written),
    ...workBlocks(document, written),
    { kind: 'heading', level: 2, text: 'What this sheet does not tell' },
    { kind: 'list', items: limits.length === 0 ? ['Nothing is known to be missing.'] : limits },
  ];
  return {
    title: `Handover sheet: ${machine.label}`,
    subtitle: `${written(period.from)} to ${written(period.to)}, times in ${timeZone}`,
    foot: `${machine.label}. Made ${written(madeAt)} by ${software}, threshold set ${thresholdSet}`,
    blocks,
  };
}

const readingGuide: readonly PrintBlock[] = [
  {
    kind: 'text',
    text:
      'A code that reports reduced power does not say why: the cause is a fault that came earlier. For each loss of power ' +
      'this sheet names the faults that could have begun it, the likeliest first, with what speaks for and against each.',
  },
  {
    kind: 'text',
    text:
      'Codes have a number (C1, C2, ...) in the order in which they first occurred, losses of power likewise (D1, D2, ...). ' +
      'SPN is what the code is about, FMI what is wrong with it, addr. the address of the controller that told of it. An occurrence lasts from when a controller first told of a ' +
      'code until it no longer did; a controller that fell silent has not cleared its codes. "Still active" means so at the end ' +
      'of what was recorded.',
  },
  {
    kind: 'text',
    text:
      'Signals around an occurrence run from ten minutes before it to two minutes after; "then" and the dashed line are when ' +
      'the code came, and a dash stands where nothing was measured.',
  },
];

function machineFacts({ machine, hours, period, ...rest }: HandoverDocument, written: WriteTime): [string, string][] {
  const { engineHoursFrom, engineHoursTo, residency, observed } = hours;
  const hoursText = [engineHoursFrom, engineHoursTo].map((value) =>
    value === null ? 'not sent' : `${value.toFixed(1)} h`,
  );
  const facts: [string, string][] = [
    ['Machine', machine.label],
    ...(machine.machineId === null || machine.machineId === machine.label
      ? []
      : ([['Id', machine.machineId]] as [string, string][])),
    ...(machine.site === null ? [] : ([['Site', machine.site]] as [string, string][])),
    ['Kind', machine.machineClass],
    ['Engine', `${machine.displacementL} L, ${machine.ratedPowerKW} kW`],
    ['Catalyst', machine.catalystFamily === 'unspecified' ? 'family not stated' : machine.catalystFamily],
    ['Particulate filter', machine.hasParticulateFilter ? 'yes' : 'no'],
    ['DEF tank', `${machine.defTankL} L`],
    ['Period', `${written(period.from)} to ${written(period.to)}`],
    ['Engine hours', engineHoursTo === null ? 'not sent' : `${hoursText[0]} to ${hoursText[1]}`],
  ];
  if (residency !== null) {
    facts.push(['Ran', lengthText(residency.runningS)], ['Of it idle', lengthText(residency.idleS)]);
    facts.push(['Below the window', lengthText(residency.belowS)], ['Not observed', lengthText(residency.unobservedS)]);
  }
  if (observed !== null) facts.push(['Seen', `${written(observed.from)} to ${written(observed.to)}`]);
  facts.push(['Threshold set', rest.thresholdSet], ['Made with', rest.software]);
  return facts;
}
