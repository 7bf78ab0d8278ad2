/** Losses of power on paper. */

import type { HandoverDerate, HandoverDocument } from '@warmbrick/contracts';
import type { PrintBlock } from '../print/print-sheet.js';
import { classText, codeText, levelWords, likelihoodText, signWords } from './code-words.js';
import { measuredText } from './handover-work.js';
import type { WriteTime } from './sheet-clock.js';
import { windowBlock } from './window-block.js';

/** Each derate with its origin; then what the inducement schedules say of what is active now. */
export function derateBlocks({ derates, clocks }: HandoverDocument, written: WriteTime): PrintBlock[] {
  const blocks: PrintBlock[] = [{ kind: 'heading', level: 2, text: 'Loss of power' }];
  if (derates.length === 0) blocks.push({ kind: 'text', text: 'None was seen in this period.' });
  for (const derate of [...derates].reverse()) blocks.push(...oneDerate(derate, written));
  if (clocks.length > 0) blocks.push(...clockBlocks(clocks, written));
  return blocks;
}

function oneDerate(derate: HandoverDerate, written: WriteTime): PrintBlock[] {
  const { number, startedAt, endedAt, inquiry, window, history } = derate;
  const until = endedAt === null ? 'still going on' : `to ${written(endedAt)}`;
  const blocks: PrintBlock[] = [
    { kind: 'heading', level: 3, text: `${number}: ${written(startedAt)}, ${until}` },
    { kind: 'facts', rows: derateFacts(derate) },
  ];
  if (inquiry === null) return [...blocks, { kind: 'text', text: 'It has not been inquired into yet.' }];
  blocks.push({ kind: 'text', text: `${inquiry.summary} Confidence ${Math.round(inquiry.confidence * 100)} %.` });
  if (inquiry.origins.length > 0) blocks.push(candidateTable(inquiry.origins, written));
  for (const origin of inquiry.origins.filter(({ isOrigin }) => isOrigin)) blocks.push(...evidenceBlocks(origin));
  blocks.push(...listUnder('Check first', inquiry.checkFirst), ...listUnder('Do not', inquiry.doNot));
  const sensors = inquiry.suspectSensors.map(({ channel, why }) => `${channel}: ${why}`);
  blocks.push(...listUnder('Sensors that may be lying', sensors));
  blocks.push(
    ...listUnder(
      'Worth knowing',
      inquiry.notes.map(({ text }) => text),
    ),
  );
  const changes = history.flatMap(({ madeAt, changes }) => changes.map((change) => `${written(madeAt)}: ${change}`));
  blocks.push(...listUnder('How this answer changed', changes));
  if (window !== null) blocks.push(windowBlock(`Signals around the start of ${number}`, window));
  return blocks;
}

function derateFacts(derate: HandoverDerate): [string, string][] {
  const { level, signs, leastTorqueRatio, lostPowerKW, runningH, lostH, peakSeverity, saidClass } = derate;
  const facts: [string, string][] = [
    ['How much', levelWords[level]],
    ['Seen by', signs.map((sign) => signWords[sign]).join('; ')],
  ];
  if (leastTorqueRatio !== null) facts.push(['Least torque left', `${Math.round(leastTorqueRatio * 100)} %`]);
  if (lostPowerKW !== null) facts.push(['Most power missing', `${lostPowerKW} kW`]);
  if (runningH !== null) facts.push(['Ran under it', `${runningH.toFixed(2)} h`]);
  if (lostH !== null) facts.push(['Full work lost', `${lostH.toFixed(2)} h`]);
  if (peakSeverity !== null) facts.push(['Highest severity', String(peakSeverity)]);
  if (saidClass !== null) facts.push(['Codes say it is about', classText(saidClass)]);
  return facts;
}

type Origins = NonNullable<HandoverDerate['inquiry']>['origins'];

function candidateTable(origins: Origins, written: WriteTime): PrintBlock {
  return {
    kind: 'table',
    title: 'Faults that could have begun it, the likeliest first',
    columns: [
      { head: 'taken as', share: 2 },
      { head: 'code', share: 1.2 },
      { head: 'SPN', share: 1.4, isNumber: true },
      { head: 'FMI', share: 1, isNumber: true },
      { head: 'in words', share: 6 },
      { head: 'active from', share: 3 },
      { head: 'likelihood', share: 3 },
    ],
    rows: origins.map((origin) => [
      origin.isOrigin ? 'origin' : 'runner-up',
      origin.code ?? '',
      String(origin.spn),
      String(origin.fmi),
      codeText(origin),
      written(origin.startedAt),
      likelihoodText(origin.likelihood),
    ]),
  };
}

function evidenceBlocks({ code, spn, fmi, evidence }: Origins[number]): PrintBlock[] {
  const name = code ?? `SPN ${spn} FMI ${fmi}`;
  const lines = (supports: boolean | null) =>
    evidence
      .filter((piece) => piece.supports === supports)
      .map(({ text, figures }) => {
        const numbers = measuredText(figures);
        return numbers === '' ? text : `${text} (${numbers})`;
      });
  return [
    ...listUnder(`Speaks for ${name}`, lines(true)),
    ...listUnder(`Speaks against ${name}`, lines(false)),
    ...listUnder(`About ${name}`, lines(null)),
  ];
}

function listUnder(title: string, items: readonly string[]): PrintBlock[] {
  return items.length === 0
    ? []
    : [
        { kind: 'heading', level: 3, text: title },
        { kind: 'list', items },
      ];
}

function clockBlocks(clocks: HandoverDocument['clocks'], written: WriteTime): PrintBlock[] {
  const blocks: PrintBlock[] = [{ kind: 'heading', level: 2, text: 'Inducement clock' }];
  for (const { title, source, fromMemory, lines } of clocks) {
    blocks.push({
      kind: 'table',
      title: fromMemory ? `${title} (from memory)` : title,
      columns: [
        { head: 'about', share: 3 },
        { head: 'active from', share: 3 },
        { head: 'step', share: 5 },
        { head: 'left', share: 3 },
        { head: 'basis', share: 2 },
      ],
      rows: lines.flatMap((line) =>
        line.steps.map((step, at) => [
          at === 0 ? classText(line.inducementClass) : '',
          at === 0 ? written(line.startedAt) : '',
          step.text,
          stepText(step, line.isUpperBound),
          step.fromMemory ? 'from memory' : 'read in the source',
        ]),
      ),
    });
    blocks.push({ kind: 'text', text: `Source: ${source}`, isQuiet: true });
    const clears = [...new Set(lines.map((line) => `${classText(line.inducementClass)}: cleared by ${line.clears}.`))];
    blocks.push({ kind: 'list', items: clears });
  }
  const [first] = clocks;
  if (first !== undefined) blocks.push({ kind: 'text', text: first.caution });
  return blocks;
}

function stepText(
  { hoursLeft, atLevelPct, isReached }: HandoverDocument['clocks'][number]['lines'][number]['steps'][number],
  isUpperBound: boolean,
): string {
  if (isReached) return 'reached';
  if (hoursLeft !== null) return `${hoursLeft.toFixed(1)} engine hours${isUpperBound ? ' or more' : ''}`;
  return atLevelPct === null ? '' : `at ${atLevelPct} % in the tank`;
}
