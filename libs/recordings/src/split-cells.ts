/** Cuts a line of CSV into cells. Source: RFC 4180, 2, without line breaks inside quotes. */

/**
 * The cells of a line, quotes resolved.
 *
 * Missing: null when a quote is never closed or something follows the closing one.
 */
export function splitCells(line: string, separator: string): string[] | null {
  if (!line.includes('"')) return line.split(separator);
  const cells: string[] = [];
  let at = 0;
  for (;;) {
    if (line[at] === '"') {
      const end = closingQuote(line, at + 1);
      if (end < 0) return null;
      cells.push(line.slice(at + 1, end).replaceAll('""', '"'));
      at = end + 1;
    } else {
      const end = line.indexOf(separator, at);
      const to = end < 0 ? line.length : end;
      cells.push(line.slice(at, to));
      at = to;
    }
    if (at >= line.length) return cells;
    if (line[at] !== separator) return null;
    at++;
  }
}

function closingQuote(line: string, from: number): number {
  let at = from;
  for (;;) {
    const quote = line.indexOf('"', at);
    if (quote < 0) return -1;
    if (line[quote + 1] !== '"') return quote;
    at = quote + 2;
  }
}
