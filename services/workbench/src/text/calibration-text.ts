/** A calibration of the score as a readable report. */

import type { Reliability } from '@warmbrick/tuning';
import type { CalibrationDocument } from '../commands/calibrate-command.js';
import { textTable } from './text-table.js';

/** The report. */
export function calibrationText(document: CalibrationDocument): string {
  const { outcomes, horizonH, machines, moments, weights, map } = document;
  const factors = Object.entries(weights.factors).map(([name, factor]) => [name, shown(factor)]);
  const parts = [
    `${outcomes.join(' or ')} within ${horizonH} engine hours: fitted on ${moments.fitted} moments of ${machines.fitted} machines, judged on ${moments.heldOut} of ${machines.heldOut} others.`,
    textTable([['part of the score', 'worth, now 1'], ...factors]),
    tableOf('before, read as percent', document.before),
    tableOf('after', document.after),
    `From the refitted score to the chance:\n${map.map(({ upTo, chance, moments: count }) => `  up to ${upTo.toFixed(1)}: ${percent(chance)} (${count} moments)`).join('\n')}`,
    'Factors below 1 say that a part warns of less than it is given; none is ever below 0. Nothing was changed: weights\nlive in libs/analysis, where a change has to pass the scorecard.',
  ];
  return `${parts.join('\n\n')}\n`;
}

function tableOf(title: string, of: Reliability): string {
  const rows = of.bins
    .filter(({ moments }) => moments > 0)
    .map(({ from, moments, came, told }) => [
      `${percent(from)} to ${percent(from + 0.1)}`,
      String(moments),
      percent(told ?? 0),
      percent(came / moments),
    ]);
  const area = of.areaUnderCurve === null ? '-' : of.areaUnderCurve.toFixed(3);
  return `${textTable([[title, 'moments', 'told', 'came'], ...rows])}\nBrier ${of.brier.toFixed(4)}, off by ${percent(of.calibrationError)} on average, area under the curve ${area}`;
}

function percent(ratio: number): string {
  return `${Number((ratio * 100).toPrecision(3))} %`;
}

function shown(value: number): string {
  return String(Number(value.toPrecision(3)));
}
