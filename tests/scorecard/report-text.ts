/** The scorecard as a page of Markdown. */

import { type Calibration, horizonsH, type Outcome, outcomes } from './calibration.js';
import type { KindScore, Scorecard } from './run-scorecard.js';

const outcomeWords: Readonly<Record<Outcome, string>> = {
  regeneration: 'a regeneration was needed',
  blockage: 'the urea injector was blocked',
  derate: 'soot, deposits or lost conversion took torque',
  any: 'any of these',
};

/** The page; `ranOn` says what it was run on. */
export function reportText(card: Scorecard, ranOn: string): string {
  const { machines, days, seed, samples, machineMonths } = card;
  const notMade = card.kinds.filter(({ isMade }) => !isMade).map(({ kind }) => kind);
  return [
    '# Scorecard',
    '',
    `The analysis with its built-in thresholds against ${machines} simulated machines over ${days} days (${machineMonths.toFixed(2)}`,
    `machine-months, ${samples.toLocaleString('en')} samples), seed ${seed}. ${ranOn}`,
    '',
    'Machines, faults and truth come from `libs/simulator`: this says how well the analysis finds what was put in, and nothing',
    'about real machines. Written by `npm run scorecard -- --write`; what counts is in `claims.ts`.',
    '',
    '## Findings',
    '',
    kindTable(card.kinds.filter(({ isMade }) => isMade)),
    '',
    `Not made yet: ${notMade.length === 0 ? 'none of the scored kinds' : notMade.join(', ')}.`,
    'No truth to score against: cold-dwell, def-empty-forecast, def-consumption, def-heater.',
    '',
    ...shortcomings(card.kinds),
    '## Soot-risk score',
    '',
    'Score every twelve hours against what came within the next engine hours. The score is no probability; a good one has',
    'shares that rise with it, and an AUC near 1 (0.5 is chance). Its weights were chosen on fleets of seeds 11 and 12;',
    `${isFittedSeed(seed) ? 'THIS IS ONE OF THEM: these figures flatter.' : 'none of them is in these figures.'} A score is low right after a regeneration, yet a sooty engine`,
    'or light duty can need the next one within 50 hours: low rows may hold such moments.',
    '',
    '### AUC by engine hours ahead',
    '',
    table(
      ['what came', ...horizonsH.map((hours) => `within ${hours} h`)],
      outcomes.map((outcome) => [
        `${outcome}: ${outcomeWords[outcome]}`,
        ...card.aucByHorizon[outcome].map((auc) => (auc === null ? '-' : auc.toFixed(3))),
      ]),
    ),
    '',
    ...moreBlockagesText(card),
    'The tables are for 50 engine hours.',
    '',
    ...outcomes.flatMap((outcome) =>
      calibrationText(`${outcome}: ${outcomeWords[outcome]}`, card.calibration[outcome]),
    ),
    ...calibrationText('any of these, on machines that send no soot signal', card.modelsAlone),
  ]
    .join('\n')
    .trimEnd();
}

function moreBlockagesText({ moreBlockages }: Scorecard): string[] {
  if (moreBlockages === null) return [];
  const { machines, seed, came, auc } = moreBlockages;
  const reached = horizonsH.map(
    (hours, k) => `${auc[k]?.toFixed(3) ?? '-'} within ${hours} h (${came[k]} moments before one)`,
  );
  return [
    `Few machines are blocked. With ${machines} more whose urea sticks (seed ${seed}), blockages rank by`,
    `${reached.join(', ')}.`,
    '',
  ];
}

/** Seeds of the fleets that the weights of the score were chosen on. */
function isFittedSeed(seed: number): boolean {
  return seed === 11 || seed === 12;
}

function kindTable(kinds: readonly KindScore[]): string {
  const heads = [
    'kind',
    'to find',
    'found',
    'missed',
    'found %',
    'false',
    'false per machine-month',
    'off mean s',
    'off worst s',
  ];
  const rows = kinds.map((score) => [
    score.kind,
    `${score.hits + score.misses}`,
    `${score.hits}`,
    `${score.misses}`,
    score.foundRatio === null ? '-' : (100 * score.foundRatio).toFixed(1),
    `${score.falseAlarms}`,
    score.falseAlarmsPerMachineMonth.toFixed(2),
    whole(score.meanOffS),
    whole(score.worstOffS),
  ]);
  return table(heads, rows);
}

/** Worst first: what is missed or cried out for nothing. */
function shortcomings(kinds: readonly KindScore[]): string[] {
  const short = kinds.filter(
    ({ isMade, foundRatio, falseAlarmsPerMachineMonth }) =>
      isMade && ((foundRatio !== null && foundRatio < 0.95) || falseAlarmsPerMachineMonth >= 1),
  );
  if (short.length === 0) return ['Short of 95 % found or over one false alarm a machine-month: none.', ''];
  const words = short.map(({ kind, foundRatio, falseAlarmsPerMachineMonth }) => {
    const found = foundRatio === null ? 'nothing to find' : `${(100 * foundRatio).toFixed(0)} % found`;
    return `- ${kind}: ${found}, ${falseAlarmsPerMachineMonth.toFixed(1)} false a machine-month`;
  });
  return ['Short of 95 % found, or over one false alarm a machine-month:', '', ...words, ''];
}

function calibrationText(title: string, calibration: Calibration): string[] {
  const { moments, came, auc, bins } = calibration;
  const head = `### ${title}`;
  if (moments === 0) return [head, '', 'Not run.', ''];
  const rows = bins.map(({ fromScore, moments: n, came: k, meanScore }) => [
    `${fromScore}-${fromScore + 10}`,
    `${n}`,
    meanScore === null ? '-' : meanScore.toFixed(1),
    `${k}`,
    n === 0 ? '-' : ((100 * k) / n).toFixed(0),
  ]);
  return [
    head,
    '',
    `${moments} moments, ${came} before it came; AUC ${auc === null ? 'not defined' : auc.toFixed(3)}.`,
    '',
    table(['score', 'moments', 'mean score', 'came', 'came %'], rows),
    '',
  ];
}

function table(heads: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = heads.map((head, k) => Math.max(head.length, ...rows.map((row) => (row[k] ?? '').length)));
  const line = (cells: readonly string[]) =>
    `| ${cells.map((cell, k) => cell.padEnd(widths[k] as number)).join(' | ')} |`;
  return [line(heads), line(widths.map((width) => '-'.repeat(width))), ...rows.map(line)].join('\n');
}

function whole(seconds: number | null): string {
  return seconds === null ? '-' : seconds.toFixed(0);
}
