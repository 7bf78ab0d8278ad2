/** Rules in plain words. */

import { figureOf } from '@warmbrick/alerting';
import { formatDuration } from '../format/duration.js';
import { kindName } from '../format/finding-words.js';
import type { Levels, Rule } from './rule-draft.js';

/** What a rule looks at: "long idles of at least warning". */
export function whenWords({ when }: Rule): string {
  if ('finding' in when) {
    const least = when.leastSeverity === 'info' ? '' : `, ${when.leastSeverity} or worse`;
    const where = when.where.map((one) => `, ${one.value} ${levelWords(one)}`).join('');
    return `${kindName(when.finding, 2)}${least}${where}`;
  }
  if ('figure' in when) return `${figureWords(when.figure)} ${levelWords(when)}`;
  if ('rising' in when) return `${figureWords(when.rising)} risen by ${when.by} within ${formatDuration(when.withinS)}`;
  return `nothing heard for ${formatDuration(when.silentS)}`;
}

function figureWords(name: string): string {
  return figureOf(name)?.words ?? name;
}

function levelWords({ atLeast, atMost, clearBelow, clearAbove, is, anyOf }: Levels): string {
  if (is !== undefined) return `is ${is}`;
  if (anyOf !== undefined) return `is ${anyOf.join(' or ')}`;
  const clears = clearBelow ?? clearAbove;
  const until = clears === undefined ? '' : `, until ${clearBelow === undefined ? 'above' : 'below'} ${clears}`;
  return `${atLeast === undefined ? `at most ${atMost}` : `at least ${atLeast}`}${until}`;
}

/** How a rule holds and whom it reaches, one line each. */
export function habitWords(rule: Rule): string[] {
  const lines = [`tells people at once from "${rule.pagesFrom}" on`];
  if (rule.onDelayS > 0) lines.push(`opens after ${formatDuration(rule.onDelayS)}`);
  if (rule.offDelayS > 0) lines.push(`closes after ${formatDuration(rule.offDelayS)}`);
  if (rule.isLatched) lines.push(`stays until seen, at most ${formatDuration(rule.releaseAfterS)}`);
  if (rule.during !== 'always')
    lines.push(rule.during === 'in-shift' ? 'counts in the shifts only' : 'counts outside the shifts only');
  for (const { afterS, to } of rule.escalation) lines.push(`not seen after ${formatDuration(afterS)}: to ${to}`);
  const { sites, classes, machines } = rule.appliesTo;
  const only = [...sites, ...classes, ...machines];
  if (only.length > 0) lines.push(`only for ${only.join(', ')}`);
  return lines;
}
