/** Why a score is what it is, in words. */

import type { Explained } from '../commands/explain-command.js';
import { comparisonLines } from './class-text.js';
import { durationText } from './durations.js';
import { loadLines } from './load-text.js';
import { outlookLines } from './outlook-text.js';

const partMeanings: Readonly<Record<string, string>> = {
  'soot-load': 'soot in the particulate filter against its limit',
  deposits: 'urea deposits, now and at their worst of late, against their limit',
  'cold-running': 'running too cold to burn anything off: how soon the limit comes',
  idling: 'idling that was no cool-down',
  'hot-stops': 'hot engine switched off without a cool-down',
};

/** Bands of the score, as on the pages. Source: engineering judgement. */
const watchFrom = 30;
const riskFrom = 60;

function bandWords(value: number): string {
  if (value >= riskFrom) return 'at risk';
  return value >= watchFrom ? 'worth watching' : 'low';
}

/** As on the pages: little evidence under a half, good from 0.8. */
function evidenceWords(confidence: number): string {
  if (confidence < 0.5) return 'little evidence';
  return confidence < 0.8 ? 'fair evidence' : 'good evidence';
}

/** The explanation of one machine, ready to print. */
export function explanationText(machine: Explained): string {
  const { score, residency, observed } = machine;
  if (score === null) return `${machine.machineId}: the engine was not seen running, so there is no score.\n`;
  const rows = Object.entries(score.parts).map(([name, points]) => {
    return `  ${String(points).padStart(5)}  ${name.replace('-', ' ').padEnd(13)} ${partMeanings[name] ?? ''}`;
  });
  const lines = [
    `${machine.machineId}: soot risk ${score.value} of 100 (${bandWords(score.value)}), confidence ${score.confidence} (${evidenceWords(score.confidence)})`,
    '',
    ...rows,
    ...(score.missing.length > 0 ? ['', `missing for a fuller picture: ${score.missing.join('; ')}`] : []),
    '',
    ...loadLines(machine.load),
    ...outlookLines(machine),
    ...comparisonLines(machine.comparison),
    `seen from ${observed.from} to ${observed.to}; ran ${durationText(residency.runningS)}, ${durationText(residency.belowS)} of it below the window`,
    '',
    score.advice,
    ...(score.caution === null ? [] : [score.caution]),
  ];
  return `${lines.join('\n')}\n`;
}
