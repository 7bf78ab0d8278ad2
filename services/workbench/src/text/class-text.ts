/** What stands out beside machines of the same class and work, and what changed, in words. */

import type { Comparison } from '@warmbrick/contracts';

type Figure = Comparison['figures'][number];

const figureWords: Readonly<Record<Figure['name'], { readonly name: string; readonly isShare: boolean }>> = {
  'idle-share': { name: 'running time at idle', isShare: true },
  'too-cold-share': { name: 'running time below the catalyst window', isShare: true },
  'below-release-share': { name: 'running time too cold to dose', isShare: true },
  'fuel-l-per-h': { name: 'fuel, L for each hour of running', isShare: false },
  'long-idles-per-day': { name: 'idles over the limit each day', isShare: false },
  'hot-stops-per-run': { name: 'hot stops of all stops', isShare: true },
};

/** A line for each figure that stands out or changed, or one that none does. Missing: none without a comparison. */
export function comparisonLines(comparison: Comparison | undefined): string[] {
  if (comparison === undefined) return [];
  const told = comparison.figures.flatMap((figure) => [...standingLine(figure), ...changeLine(figure)]);
  const compared = comparison.figures.filter(({ standing }) => standing === 'usual').length;
  if (told.length > 0) return told.map((line) => `beside its like (${comparison.group}): ${line}`);
  return compared === 0 ? [] : [`beside its like (${comparison.group}): nothing stands out in the last week`];
}

function standingLine({ name, value, standing, lowerQuartile, upperQuartile, groupSize }: Figure): string[] {
  if (standing !== 'high' && standing !== 'low') return [];
  const half = `${valueText(name, lowerQuartile)} to ${valueText(name, upperQuartile)}`;
  const where = standing === 'high' ? 'high' : 'low';
  return [
    `${figureWords[name].name} ${valueText(name, value)}, which is ${where}: the middle half of ${groupSize} has ${half}`,
  ];
}

function changeLine({ name, change }: Figure): string[] {
  if (change === null) return [];
  const { since, meanBefore, meanAfter } = change;
  return [
    `${figureWords[name].name} went from ${valueText(name, meanBefore)} to ${valueText(name, meanAfter)} around ${since.slice(0, 10)}`,
  ];
}

function valueText(name: Figure['name'], value: number | null): string {
  if (value === null) return '-';
  return figureWords[name].isShare ? `${Math.round(100 * value)} %` : String(Number(value.toFixed(1)));
}
