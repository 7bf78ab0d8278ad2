/** Cuts a stream of bytes into lines, holding no more than one chunk and one line. */

/** Longest line taken, in bytes. Source: engineering judgement; a packet of 3600 samples of 20 channels fits. */
export const longestLineBytes = 1_048_576;

export interface LineBatch {
  /** Number of the first line, from 1. */
  readonly firstLine: number;
  /** The lines without their endings; null stands for a line that was too long and is gone. */
  readonly lines: readonly (string | null)[];
}

const newline = 10;
const byteOrderMark = '\uFEFF';

/** Lines of a UTF-8 text, in batches as they come; LF and CRLF end a line; a byte order mark is dropped. */
export async function* readLines(chunks: AsyncIterable<Buffer>): AsyncGenerator<LineBatch> {
  let firstLine = 1;
  let held: Buffer[] = [];
  let heldBytes = 0;
  let isSkipping = false;
  for await (const chunk of chunks) {
    const lastEnd = chunk.lastIndexOf(newline);
    if (lastEnd >= 0) {
      const lines = isSkipping ? cutSkipped(chunk, lastEnd) : cut(held, chunk, lastEnd);
      if (firstLine === 1) dropMark(lines);
      yield { firstLine, lines };
      firstLine += lines.length;
      held = [];
      heldBytes = 0;
      isSkipping = false;
    }
    const rest = chunk.subarray(lastEnd + 1);
    heldBytes += rest.length;
    if (heldBytes > longestLineBytes) {
      isSkipping = true;
      held = [];
    } else if (rest.length > 0) {
      held.push(rest);
    }
  }
  if (isSkipping) {
    yield { firstLine, lines: [null] };
  } else if (heldBytes > 0) {
    const lines = [withoutReturn(Buffer.concat(held).toString('utf8'))];
    if (firstLine === 1) dropMark(lines);
    yield { firstLine, lines };
  }
}

function cut(held: readonly Buffer[], chunk: Buffer, end: number): (string | null)[] {
  const whole = chunk.subarray(0, end);
  const text = held.length === 0 ? whole : Buffer.concat([...held, whole]);
  const lines: (string | null)[] = text.toString('utf8').split('\n');
  for (let i = 0; i < lines.length; i++) {
    const line = withoutReturn(lines[i] as string);
    lines[i] = line.length > longestLineBytes ? null : line;
  }
  return lines;
}

function cutSkipped(chunk: Buffer, end: number): (string | null)[] {
  const firstEnd = chunk.indexOf(newline);
  return firstEnd === end ? [null] : [null, ...cut([], chunk.subarray(firstEnd + 1), end - firstEnd - 1)];
}

function withoutReturn(line: string): string {
  return line.endsWith('\r') ? line.slice(0, -1) : line;
}

function dropMark(lines: (string | null)[]): void {
  const first = lines[0];
  if (first?.startsWith(byteOrderMark) === true) lines[0] = first.slice(1);
}
