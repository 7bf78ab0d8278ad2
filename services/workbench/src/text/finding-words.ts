/** Findings in plain words. */

import type { FindingDocument } from '@warmbrick/contracts';
import { durationText } from './durations.js';
import { furtherWords } from './further-words.js';

/** What happened, in one line. */
export function findingWords(finding: FindingDocument): string {
  const number = (name: string) => Number(finding.values[name] ?? 0);
  const isOpen = finding.endedAt === null;
  switch (finding.kind) {
    case 'engine-run':
      return `engine ran ${durationText(number('durationS'))}${isOpen ? ' so far' : ''}, idle ${durationText(number('idleS'))}`;
    case 'idle-streak': {
      const fuel = finding.values.fuelL === null ? '' : `, ${number('fuelL')} L of fuel`;
      return `idle for ${durationText(number('durationS'))}${isOpen ? ', still going on' : ''}${fuel}`;
    }
    case 'cold-dwell':
      return `below ${number('windowLowC')} C for ${durationText(number('durationS'))}${isOpen ? ', still going on' : ''}, mean ${number('meanTempC')} C`;
    case 'hot-shutdown': {
      const inferred = finding.values.inferred === true ? ` (stop inferred: ${finding.evidence.stopSeenBy})` : '';
      return `switched off hot after ${durationText(number('cooldownS'))} of cool-down, ${number('wantedS')} s wanted${inferred}`;
    }
    case 'early-load':
      return `load of ${number('loadPct')} % after ${durationText(number('warmupS'))} of warm-up, ${durationText(number('wantedS'))} wanted at ${number('coolantTempC')} C coolant`;
    case 'data-gap':
      return `nothing heard for ${durationText(number('durationS'))} while the engine ran or may have`;
    default:
      return furtherWords(finding);
  }
}
