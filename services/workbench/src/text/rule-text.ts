/** Rules, and what came of trying one, as text. */

import type { Rule } from '@warmbrick/alerting';
import type { TryOutcome } from '../rules/try-on-recordings.js';

/** One line a rule: id, what it looks at, whom it reaches. */
export function ruleListText(rules: readonly Rule[]): string {
  const width = Math.max(...rules.map(({ id }) => id.length));
  return rules.map((rule) => `${rule.id.padEnd(width)}  ${whenText(rule)}\n`).join('');
}

/** What a rule looks at, in a few words. */
function whenText({ when, title }: Rule): string {
  if ('finding' in when) {
    const where = when.where.map((one) => ` ${one.value} ${levelText(one)}`).join('');
    const least = when.leastSeverity === 'info' ? '' : ` (${when.leastSeverity} or worse)`;
    return `${title}: finding ${when.finding}${least}${where}`;
  }
  if ('figure' in when) return `${title}: ${when.figure} ${levelText(when)}`;
  if ('rising' in when) return `${title}: ${when.rising} up by ${when.by} within ${when.withinS / 3600} h`;
  return `${title}: nothing heard for ${when.silentS / 3600} h`;
}

interface Level {
  readonly atLeast?: number | undefined;
  readonly atMost?: number | undefined;
  readonly clearBelow?: number | undefined;
  readonly clearAbove?: number | undefined;
  readonly is?: unknown;
  readonly anyOf?: readonly string[] | undefined;
}

function levelText({ atLeast, atMost, clearBelow, clearAbove, is, anyOf }: Level): string {
  if (is !== undefined) return `= ${String(is)}`;
  if (anyOf !== undefined) return `= ${anyOf.join(' or ')}`;
  if (atLeast !== undefined) return `>= ${atLeast}${clearBelow === undefined ? '' : `, clears below ${clearBelow}`}`;
  return `<= ${atMost}${clearAbove === undefined ? '' : `, clears above ${clearAbove}`}`;
}

/** How often a rule would have opened, and when. */
export function triedText(rule: Rule, tried: TryOutcome): string {
  const { openings, more, machines, samples, fromMs, toMs } = tried;
  const count = openings.length + more;
  const pages = openings.filter((one) => one.pages).length;
  const range = fromMs === null || toMs === null ? '' : ` from ${instant(fromMs)} to ${instant(toMs)}`;
  const times = (n: number) => (n === 1 ? 'once' : `${n} times`);
  const head = `"${rule.id}" would have opened ${times(count)} and told people at once ${times(pages)}.\n`;
  const about = `Tried on ${machines} ${machines === 1 ? 'machine' : 'machines'}, ${samples} samples${range}.\n`;
  const lines = openings.map((one) => `  ${instant(one.startedMs)}  ${one.severity.padEnd(7)}  ${one.text}\n`);
  const rest = more === 0 ? '' : `  and ${more} more\n`;
  return `${head}${about}${lines.length === 0 ? '' : '\n'}${lines.join('')}${rest}`;
}

function instant(timeMs: number): string {
  return new Date(timeMs).toISOString().slice(0, 16).replace('T', ' ');
}
