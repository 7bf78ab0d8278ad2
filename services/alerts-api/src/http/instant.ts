/** Times as the API reads them: RFC 3339. */

/** UTC epoch milliseconds of an RFC 3339 text that a schema has already checked. */
export function parseInstant(text: string): number {
  return Date.parse(text);
}
