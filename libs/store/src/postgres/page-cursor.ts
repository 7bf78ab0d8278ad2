/** Where the next page starts, as a text that callers pass back unread. */

import { OperatingError } from '@warmbrick/runtime';

/** Longest cursor taken, in characters. */
const maxCursorLength = 1_000;

/** A position in a list as base64url of its JSON. */
export function encodeCursor(list: string, position: Readonly<Record<string, unknown>>): string {
  return Buffer.from(JSON.stringify({ list, ...position })).toString('base64url');
}

/**
 * Reads a cursor back.
 *
 * Errors: OperatingError `bad-cursor` for a text that `encodeCursor` did not make for this list.
 */
export function decodeCursor<T>(
  cursor: string,
  list: string,
  fields: { readonly [K in keyof T]: 'string' | 'number' },
): T {
  const position = cursor.length > maxCursorLength ? null : parse(cursor);
  const isWhole =
    position?.list === list && Object.entries(fields).every(([name, type]) => typeof position[name] === type);
  if (position !== null && isWhole) return position as T;
  throw new OperatingError('The cursor is not one that this list gave out.', {
    code: 'bad-cursor',
    remedy: 'Start from the first page, with the same sort and without a cursor.',
  });
}

function parse(cursor: string): Record<string, unknown> | null {
  try {
    const position: unknown = JSON.parse(Buffer.from(cursor, 'base64url').toString());
    return typeof position === 'object' && position !== null ? (position as Record<string, unknown>) : null;
  } catch {
    return null;
  }
}
