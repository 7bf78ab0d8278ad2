/** What keeps an alert from paging although it is active: a maintenance window, or a calendar by which it does not count. */

import type { OperatorState } from './alert.js';
import type { MachineRules } from './machine-rules.js';
import type { Rule } from './rule.js';
import { windowAt } from './rule-book.js';
import { shiftAt } from './shift-calendar.js';

type Suppressed = Pick<OperatorState, 'suppression' | 'suppressionReason'>;

const free: Suppressed = { suppression: 'none', suppressionReason: null };

/** Whether alerts of a rule are suppressed at an instant, and why. A maintenance window goes before the calendar. */
export function suppressionOf({ book, place }: MachineRules, rule: Rule, atMs: number): Suppressed {
  const window = windowAt(book, place, atMs);
  if (window !== null) return { suppression: 'out-of-service', suppressionReason: window.reason };
  if (rule.during === 'always') return free;
  const shift = shiftAt(place.profile, atMs);
  const counts = (rule.during === 'in-shift') === (shift !== null);
  if (counts) return free;
  return {
    suppression: 'suppressed-by-design',
    suppressionReason: shift === null ? 'outside the shifts of the machine' : `during the shift "${shift}"`,
  };
}
