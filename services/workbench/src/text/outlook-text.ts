/** DEF tank, NOx conversion and suspect sensors, in words that a site lead understands. */

import { sensorName } from '@warmbrick/analysis';
import type { MachineReport } from '@warmbrick/contracts';

type Outlook = Pick<MachineReport, 'def' | 'noxBins' | 'suspectChannels'>;
type Def = NonNullable<MachineReport['def']>;

/** From so many points of conversion under the machine's own past a bin is named. Source: engineering judgement. */
const namedPoints = 5;

/** Lines about what is known; none about what is not sent. */
export function outlookLines({ def, noxBins, suspectChannels }: Outlook): string[] {
  return [
    ...(def === null ? [] : [defLine(def), ...overnightLine(def)]),
    ...noxLine(noxBins),
    ...suspectChannels.map((channel) => `not believed at present: ${sensorName(channel)}; see the findings`),
  ];
}

function defLine({ levelPct, tankL, limitPct, hoursToLimit, hoursToLimitLow, hoursToLimitHigh }: Def): string {
  const level = `DEF: ${Math.round(levelPct)} % of ${tankL} L`;
  if (levelPct <= limitPct) return `${level}, which is low: fill it before the next shift`;
  if (hoursToLimit === null) return `${level}; how long it lasts cannot be told before three engine hours of use`;
  const range =
    hoursToLimitLow === null || hoursToLimitHigh === null
      ? ''
      : ` (${Math.floor(hoursToLimitLow)} to ${Math.ceil(hoursToLimitHigh)} in nine of ten cases)`;
  return `${level}, down to ${limitPct} % in about ${Math.max(1, Math.round(hoursToLimit))} engine hours${range}`;
}

const overnightWords: Readonly<Partial<Record<Def['overnight'], string>>> = {
  'burst-risk':
    'too full for a frosty night: freezing DEF grows by 7 % and can burst the tank; use some before parking it outside',
  'fuller-than-needed': 'before a frosty night about a quarter in the tank is enough, and thaws sooner',
  'too-low': 'little DEF for the morning after a frosty night: leave about a quarter in the tank',
  'about-a-quarter': 'about a quarter of DEF, as it should be before a frosty night',
};

function overnightLine({ overnight }: Def): string[] {
  const words = overnightWords[overnight];
  return words === undefined ? [] : [words];
}

function noxLine(bins: Outlook['noxBins']): string[] {
  const known = bins.filter(({ conversionRatio }) => conversionRatio !== null);
  if (known.length === 0) return [];
  const short = known
    .map(({ lowC, highC, conversionRatio, baselineRatio }) => {
      const points = baselineRatio === null ? 0 : Math.round(100 * (baselineRatio - (conversionRatio ?? 0)));
      return { points, words: `${points} points at ${lowC}-${highC} °C` };
    })
    .filter(({ points }) => points >= namedPoints);
  const converted = known.map(
    ({ lowC, highC, conversionRatio }) => `${Math.round(100 * (conversionRatio ?? 0))} % at ${lowC}-${highC} °C`,
  );
  const line = `NOx converted of late: ${converted.join(', ')}`;
  return short.length === 0
    ? [line]
    : [line, `that is under the machine’s own past by ${short.map(({ words }) => words).join(', ')}`];
}
