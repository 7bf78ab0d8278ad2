/** What is searched and what it costs, as said on a command line. */

import { thresholdNames } from '@warmbrick/analysis';
import { nearestName, OperatingError } from '@warmbrick/runtime';
import {
  type CostWeights,
  type ThresholdAxis,
  thresholdNotes,
  usualAnalysts,
  usualWeights,
  type Weighing,
} from '@warmbrick/tuning';

/** Thresholds searched at once at most. Source: engineering judgement: more cannot be told apart by any labels. */
const mostAxes = 12;

/**
 * Axes written as `idleLimitS,cooldownWantedS=60..600`; without bounds those of the schema.
 *
 * Errors: OperatingError `bad-search`, naming the nearest threshold or the bounds.
 */
export function parseAxes(text: string): ThresholdAxis[] {
  const axes = text.split(',').map((part) => parseAxis(part.trim()));
  if (axes.length > mostAxes) throw bad(text, `${axes.length} thresholds are too many; at most ${mostAxes}.`);
  const twice = axes.find(({ name }, i) => axes.findIndex((other) => other.name === name) < i);
  if (twice !== undefined) throw bad(text, `${twice.name} is named twice.`);
  return axes;
}

function parseAxis(text: string): ThresholdAxis {
  const [written = '', bounds] = text.split('=');
  const note = thresholdNotes.find(({ name }) => name === written);
  if (note === undefined) {
    const near = nearestName(written, thresholdNames);
    throw bad(text, `there is no threshold "${written}"${near === null ? '' : `; did you mean ${near}?`}.`);
  }
  const { name, min, max, unit } = note;
  if (bounds === undefined) return { name, min, max };
  const [low = Number.NaN, high = Number.NaN] = bounds.split('..').map(Number);
  if (low >= min && high <= max && low < high) return { name, min: low, max: high };
  throw bad(text, `bounds of ${name} are written low..high, within ${min}..${max} ${unit}.`);
}

/** Weights written as `miss=10,falseAlarm=2`; the others as usual. Errors: OperatingError `bad-search`. */
export function parseWeights(text: string | undefined): Weighing {
  const weights: Record<string, number> = { ...usualWeights };
  for (const part of text?.split(',') ?? []) {
    const [name = '', written = ''] = part.split('=').map((piece) => piece.trim());
    const value = Number(written);
    if (!(name in usualWeights) || written === '' || !(value >= 0)) {
      throw bad(`--weights ${part}`, `weights are ${Object.keys(usualWeights).join(', ')}, each a number from 0.`);
    }
    weights[name] = value;
  }
  return { weights: weights as unknown as CostWeights, analysts: usualAnalysts };
}

function bad(where: string, message: string): OperatingError {
  const remedy = 'Such as --thresholds idleLimitS,cooldownWantedS=60..600; warmbrick sets --known lists them.';
  return new OperatingError(message, { code: 'bad-search', where, remedy });
}
