/** Pages of at most `limit` items. */

import type { Page } from '../store.js';
import type { Row } from './database.js';
import { encodeCursor } from './page-cursor.js';

/** Most items of a page, whatever the caller asks for. */
const maxPageItems = 1_000;

/** The page size to use. */
export function pageLimit(wished: number): number {
  return Math.min(maxPageItems, Math.max(1, Math.trunc(wished)));
}

export interface PageShape<T> {
  /** Name of the list and its order; a cursor of another list is refused. */
  readonly list: string;
  readonly limit: number;
  toItem(row: Row): T;
  toPosition(row: Row): Record<string, unknown>;
}

/** A page out of rows that were read with one more than the limit, which tells whether there is a next page. */
export function toPage<T>(rows: readonly Row[], shape: PageShape<T>): Page<T> {
  const shown = rows.slice(0, shape.limit);
  const last = shown.at(-1);
  const hasMore = rows.length > shape.limit && last !== undefined;
  return {
    items: shown.map(shape.toItem),
    nextCursor: hasMore ? encodeCursor(shape.list, shape.toPosition(last)) : null,
  };
}
