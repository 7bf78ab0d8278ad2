/** Why a score is what it is, in words. */

import type { Explained } from '../commands/explain-command.js';
import { durationText } from './durations.js';
import { loadLines } from './load-text.js';

const partMeanings: Readonly<Record<string, string>> = {
  'soot-load': 'soot in the particulate filter against its limit',
  deposits: 'urea deposits that the temperatures were right for, against their limit',
  'cold-running': 'running too cold to burn anything off: how soon the limit comes',
  idling: 'idling that was no cool-down',
  'hot-stops': 'hot engine switched off without a cool-down',
};

/** The explanation of one machine, ready to print. */
export function explanationText(machine: Explained): string {
  const { score, residency, observed } = machine;
  if (score === null) return `${machine.machineId}: the engine was not seen running, so there is no score.\n`;
  const rows = Object.entries(score.parts).map(([name, points]) => {
    return `  ${String(points).padStart(5)}  ${name.replace('-', ' ').padEnd(13)} ${partMeanings[name] ?? ''}`;
  });
  const lines = [
    `${machine.machineId}: soot risk ${score.value} of 100, confidence ${score.confidence}`,
    '',
    ...rows,
    ...(score.missing.length > 0 ? ['', `missing for a fuller picture: ${score.missing.join('; ')}`] : []),
    '',
    ...loadLines(machine.load),
    `seen from ${observed.from} to ${observed.to}; ran ${durationText(residency.runningS)}, ${durationText(residency.belowS)} of it below the window`,
    '',
    score.advice,
    ...(score.caution === null ? [] : [score.caution]),
  ];
  return `${lines.join('\n')}\n`;
}
