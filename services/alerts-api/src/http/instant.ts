/** Times as the API writes and reads them: RFC 3339. */

/** RFC 3339 in UTC with milliseconds. */
export function formatInstant(atMs: number): string {
  return new Date(atMs).toISOString();
}

/** UTC epoch milliseconds of an RFC 3339 text that a schema has already checked. */
export function parseInstant(text: string): number {
  return Date.parse(text);
}
