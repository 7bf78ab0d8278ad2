/** What to do with a fetched batch, given where the store stands. */

export interface FetchedRange {
  /** The offset that was asked for: below the first message where others were compacted away or are transaction marks. */
  readonly fetchedOffset: number;
  readonly lastOffset: number;
  /** Offset after the last message of the partition. */
  readonly endOffset: number;
}

export type BatchPlan =
  | { readonly step: 'take' }
  /** The batch is about what is done already, or comes too early: go on reading at the store's position. */
  | { readonly step: 'seek' }
  /** Messages were lost before we read them. */
  | { readonly step: 'take-after-gap' }
  /** The log ends before the store's position. */
  | { readonly step: 'log-too-short' };

/**
 * Decides about a batch. `soughtOffset` is the position that was sought after an earlier batch came too early, or null.
 *
 * Range: offsets are whole numbers from 0.
 */
export function planBatch(position: number, range: FetchedRange, soughtOffset: number | null): BatchPlan {
  if (range.endOffset < position) return { step: 'log-too-short' };
  if (range.lastOffset < position) return { step: 'seek' };
  if (range.fetchedOffset <= position) return { step: 'take' };
  return { step: soughtOffset === position ? 'take-after-gap' : 'seek' };
}
