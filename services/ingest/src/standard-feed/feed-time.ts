/** Times of a standard feed. */

import { messageTimeMs } from '@warmbrick/contracts';
import { type FeedNode, textOf } from './feed-tree.js';

/** Times before this are those of a clock that was never set: 2000-01-01. Source: engineering judgement. */
const earliestMs = 946_684_800_000;
/** How far a clock may be ahead of ours, ms. Source: engineering judgement. */
const aheadMs = 3_600_000;

/**
 * When an element was measured, UTC epoch ms: its `datetime`, as attribute or child.
 *
 * Missing: NaN when it has none, or one that cannot be. A time without an offset is in UTC.
 * Source: ISO/TS 15143-3:2020, clause 9 (from memory).
 */
export function feedTimeMs(node: FeedNode, nowMs: number): number {
  const text = textOf(node, 'datetime');
  if (text === null) return Number.NaN;
  const timeMs = messageTimeMs(/[Zz]$|[+-]\d\d:\d\d$/.test(text) ? text : `${text}Z`);
  return timeMs >= earliestMs && timeMs <= nowMs + aheadMs ? timeMs : Number.NaN;
}
