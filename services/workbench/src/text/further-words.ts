/** Plain words for findings of the channels that only some machines send. */

import type { FindingDocument } from '@warmbrick/contracts';
import { durationText } from './durations.js';

/** What happened, in one line. Missing: a kind without words of its own is named by its code. */
export function furtherWords(finding: FindingDocument): string {
  const number = (name: string) => Number(finding.values[name] ?? 0);
  const text = (name: string) => String(finding.values[name] ?? 'unknown');
  const plain = (name: string) => text(name).replaceAll('-', ' ');
  const still = finding.endedAt === null ? ', still going on' : '';
  switch (finding.kind) {
    case 'regeneration': {
      const why = finding.values.why === null ? '' : ` (${plain('why')})`;
      return `regeneration ${plain('outcome')}${why} after ${durationText(number('durationS'))}, soot ${text('sootBeforePct')} to ${text('sootAfterPct')} %`;
    }
    case 'regeneration-inhibited':
      return `regeneration needed for ${durationText(number('durationS'))} and ${plain('why')}${still}`;
    case 'def-fill':
      return `DEF filled: ${number('litres')} L, ${number('levelBeforePct')} to ${number('levelAfterPct')} %`;
    case 'def-drop':
      return `${number('litres')} L of DEF gone that dosing does not explain, ${number('levelBeforePct')} to ${number('levelAfterPct')} %`;
    case 'def-low':
      return `DEF at ${number('levelPct')} %, under ${number('limitPct')} %${still}`;
    case 'def-empty-forecast':
      return `DEF down to ${number('limitPct')} % in about ${number('hours')} engine hours (${number('hoursLow')} to ${text('hoursHigh')})`;
    case 'def-consumption':
      return `uses ${number('ratioPct')} % DEF against fuel, ${plain('direction')} than its own ${number('baselinePct')} %${still}`;
    case 'def-quality':
      return `DEF ${plain('why')}${finding.values.concentrationPct === null ? '' : `, ${number('concentrationPct')} % urea`}${still}`;
    case 'def-frost':
      return `DEF tank ${plain('advice')} at ${number('levelPct')} % with ${number('coldestC')} C`;
    case 'def-heater':
      return `DEF tank heater on for ${durationText(number('heaterOnS'))}, ${plain('why')}${still}`;
    case 'nox-conversion':
      return `converts ${number('conversionPct')} % of NOx at ${number('binLowC')}-${number('binHighC')} C, was ${number('baselinePct')} %${still}`;
    case 'air-filter':
      return `air filter at ${number('restrictionKPa')} kPa of ${number('limitKPa')} kPa at rated flow${still}`;
    case 'sensor-suspect':
      return `${text('channel')} is not to be trusted: ${plain('why')}${still}`;
    case 'service-overdue':
      return `overdue: ${text('name')}${still}`;
    case 'inducement-step':
      return `${text('about')}: next step ${nextStepWords(finding)}, ${text('step')} (schedule ${text('schedule')})${still}`;
    case 'derate': {
      const lost = finding.values.lostPowerKW;
      const power = typeof lost === 'number' ? `, up to ${lost} kW less` : '';
      return `power reduced for ${durationText(number('runningS'))} of running${power}${still}`;
    }
    case 'cold-start': {
      const release = finding.values.releaseAfterS;
      const warm =
        typeof release === 'number'
          ? `warm enough to dose after ${durationText(release)}`
          : 'never warm enough to dose';
      return `cold start at ${number('coolantTempC')} C coolant, warmed up ${durationText(number('warmupS'))} of ${durationText(number('wantedS'))}, ${warm}`;
    }
    default:
      return finding.kind.replaceAll('-', ' ');
  }
}

function nextStepWords({ values }: FindingDocument): string {
  if (values.isReached === true) return 'reached';
  const hours = values.hoursLeft;
  return typeof hours === 'number' ? `in ${hours} engine hours` : `at ${String(values.atLevelPct ?? 'unknown')} % DEF`;
}
