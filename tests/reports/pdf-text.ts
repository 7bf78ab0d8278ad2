/** The text of a PDF that pdfkit made: its streams inflated, its strings read in order. */

import { inflateSync } from 'node:zlib';

/** Text of each page, and how many pages the document says it has. */
export function pdfText(bytes: Uint8Array): { pages: string[]; count: number } {
  const file = Buffer.from(bytes).toString('latin1');
  const pages: string[] = [];
  for (let at = file.indexOf('stream\n'); at >= 0; at = file.indexOf('stream\n', at)) {
    const start = at + 'stream\n'.length;
    const end = file.indexOf('\nendstream', start);
    const content = inflated(bytes.subarray(start, end));
    if (content?.includes(' Tf') === true) pages.push(stringsOf(content));
    at = end + '\nendstream'.length;
  }
  return { pages, count: Number(/\/Count (\d+)/.exec(file)?.[1] ?? 0) };
}

function inflated(body: Uint8Array): string | null {
  try {
    return inflateSync(body).toString('latin1');
  } catch {
    return null;
  }
}

/** Strings of the text operators; those of one operator belong together, as kerning only moves them. */
function stringsOf(content: string): string {
  const shown = content.match(/\[[^\]]*\] TJ/g) ?? [];
  return shown
    .map((operator) =>
      (operator.match(/<([0-9a-fA-F]*)>/g) ?? [])
        .map((hex) => Buffer.from(hex.slice(1, -1), 'hex').toString('latin1'))
        .join(''),
    )
    .join('\n');
}
