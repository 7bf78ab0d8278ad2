/** The section of the scorecard about the origin of derates. */

import type { FleetOrigins } from './derate-fleet.js';
import type { OriginScore } from './derate-origins.js';

/** Head of the section; it is the last of the page. */
export const derateHead = '## Origin of derates';

/** Wanted at least. Source: design decision: two misses in a hundred among three, one in ten first. */
export const wanted = { firstRatio: 0.9, amongThreeRatio: 0.98 };

const percent = (ratio: number) => `${(100 * ratio).toFixed(1)} %`;

/** The section as Markdown; `fleet` where that was run too. */
export function derateText(score: OriginScore, fleet: FleetOrigins | null): string {
  const { cases, firstSeed, answerable, deratesFound, unsent } = score;
  const isMet = score.firstRatio >= wanted.firstRatio && score.amongThreeRatio >= wanted.amongThreeRatio;
  return [
    derateHead,
    '',
    `${cases} simulated derates, seeds ${firstSeed} to ${firstSeed + cases - 1}, each days of signals and code lists that go through the fault log, the`,
    'detectors and the inquiry. The numbers of the inquiry were chosen looking at cases of seeds 1 to 3500; of other seeds only',
    'their sums. Cases are of `libs/simulator/src/faults`: fifteen ways of losing power, with gaps',
    'drawn around a family of schedules or off all of them, channels that are not sent, lists lost, late and out of order, gateways out of',
    'reach, sensors that lie, and codes without any bearing on it. They and the inquiry are by the same hand, so that real machines will',
    'be harder. Half of the machines are known to follow one schedule; of the others every built-in one is asked.',
    '',
    table(
      ['what', 'wanted', 'measured'],
      [
        ['derate found at all', '', `${deratesFound} of ${cases}`],
        [
          `true origin first (of ${answerable} whose origin was sent)`,
          percent(wanted.firstRatio),
          percent(score.firstRatio),
        ],
        ['true origin among the first three', percent(wanted.amongThreeRatio), percent(score.amongThreeRatio)],
        ['true origin named', '', percent(score.namedRightRatio)],
        ['answered "unknown"', '', percent(score.unknownRatio)],
        ['only wrong ones named', '', percent(score.namedWrongRatio)],
        [`answered "unknown" where no origin was ever sent (${unsent})`, '', percent(score.unsentUnknownRatio)],
      ],
    ),
    '',
    isMet ? 'Wanted is met.' : 'WANTED IS NOT MET.',
    '',
    table(
      ['how it began', 'cases', 'first', 'among three', 'unknown', 'wrong'],
      score.byMechanism.map((row) => [
        row.mechanism,
        `${row.cases}`,
        `${row.first}`,
        `${row.amongThree}`,
        `${row.unknown}`,
        `${row.wrong}`,
      ]),
    ),
    '',
    'Confidence against how often what was named was right:',
    '',
    table(
      ['confidence', 'named', 'right', 'right %'],
      score.calibration
        .filter(({ named }) => named > 0)
        .map(({ from, named, right }) => [
          `${from.toFixed(1)}-${(from + 0.1).toFixed(1)}`,
          `${named}`,
          `${right}`,
          ((100 * right) / named).toFixed(0),
        ]),
    ),
    ...(fleet === null ? [] : fleetText(fleet)),
  ].join('\n');
}

function fleetText(fleet: FleetOrigins): string[] {
  const { machines, days, seed, derates, found, first, amongThree, falseDerates, misses } = fleet;
  return [
    '',
    `Against ${machines} machines of the whole simulator over ${days} days, seed ${seed}, whose derates and codes were not made for this: ${derates}`,
    `derates, ${found} of them found, the true origin first in ${first} and among the first three in ${amongThree}; ${falseDerates} derates found where there was none.`,
    ...(misses.length === 0 ? [] : ['', ...misses.map((miss) => `- ${miss}`)]),
  ];
}

/** A page with the section in place of the one it has. */
export function withDerates(page: string, section: string): string {
  const at = page.indexOf(derateHead);
  return `${(at < 0 ? page : page.slice(0, at)).trimEnd()}\n\n${section}\n`;
}

function table(heads: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = heads.map((head, k) => Math.max(head.length, ...rows.map((row) => (row[k] ?? '').length)));
  const line = (cells: readonly string[]) =>
    `| ${cells.map((cell, k) => cell.padEnd(widths[k] as number)).join(' | ')} |`;
  return [line(heads), line(widths.map((width) => '-'.repeat(width))), ...rows.map(line)].join('\n');
}
