/** What service is told in. */

import type { DefBatchDocument, ServiceDueDocument } from '@warmbrick/contracts';

const hoursFormat = new Intl.NumberFormat('en', { maximumFractionDigits: 0 });

/** Engine hours as a reader says them. */
export function hoursWords(hours: number): string {
  return `${hoursFormat.format(hours)}\u00a0h`;
}

/** The interval of an item: "every 500 h or 12 months". */
export function intervalWords({ hours, months }: ServiceDueDocument['interval']): string {
  const parts = [hours === null ? null : hoursWords(hours), months === null ? null : `${months}\u00a0months`];
  return `every ${parts.filter((part) => part !== null).join(' or ')}`;
}

/** How an item stands, in a few words. */
export function stateWords({ state, hoursLeft }: ServiceDueDocument): string {
  switch (state) {
    case 'never-recorded':
      return 'nothing recorded';
    case 'overdue':
      return hoursLeft !== null && hoursLeft <= 0 ? `overdue by ${hoursWords(-hoursLeft)}` : 'overdue by the calendar';
    case 'soon':
      return hoursLeft === null ? 'due soon' : `due soon, ${hoursWords(hoursLeft)} left`;
    case 'fine':
      return hoursLeft === null ? 'not due yet' : `${hoursWords(hoursLeft)} left`;
  }
}

/** How many bricks of three an item lays: the more, the more it matters. */
export function stateBricks(state: ServiceDueDocument['state']): number {
  return { 'never-recorded': 0, fine: 1, soon: 2, overdue: 3 }[state];
}

/** How a batch of DEF stands. */
export function batchWords({ state, isTooWarm, usedRatio }: DefBatchDocument): string {
  const used = `${Math.min(999, Math.round(usedRatio * 100))}\u00a0% of its life used`;
  const words = { good: used, 'use-soon': `${used}: use it next`, past: `${used}: do not use it without a test` }[
    state
  ];
  return isTooWarm ? `${words}; stored too warm, test before use` : words;
}
