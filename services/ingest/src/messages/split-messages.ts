/** Cuts a body into messages: one JSON object, an array of them, or one a line. */

export interface MessagePiece {
  /** Such as "message 3" or "line 12". */
  readonly where: string;
  readonly payload: Uint8Array;
}

const newline = 10;
const openBracket = 91;
const blanks: readonly number[] = [9, 10, 13, 32];
const byteOrderMark = [0xef, 0xbb, 0xbf] as const;

/**
 * The messages of a JSON body: the elements of an array, else the body itself.
 *
 * Missing: null when it begins like an array and is no JSON.
 */
export function splitJson(body: Uint8Array): Iterable<MessagePiece> | null {
  const text = withoutMark(body);
  if (text[firstInk(text)] !== openBracket) return [{ where: 'message 1', payload: text }];
  try {
    const messages: unknown = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(text));
    return Array.isArray(messages) ? pieces(messages) : null;
  } catch {
    return null;
  }
}

function* pieces(messages: readonly unknown[]): Generator<MessagePiece> {
  for (const [at, message] of messages.entries()) {
    yield { where: `message ${at + 1}`, payload: Buffer.from(JSON.stringify(message)) };
  }
}

/** The messages of an NDJSON body; blank lines are passed over. */
export function* splitLines(body: Uint8Array): Generator<MessagePiece> {
  const text = withoutMark(body);
  for (let from = 0, line = 1; from < text.length; line++) {
    const found = text.indexOf(newline, from);
    const end = found < 0 ? text.length : found;
    const payload = text.subarray(from, end);
    if (firstInk(payload) < payload.length) yield { where: `line ${line}`, payload };
    from = end + 1;
  }
}

function withoutMark(bytes: Uint8Array): Uint8Array {
  return byteOrderMark.every((byte, i) => bytes[i] === byte) ? bytes.subarray(byteOrderMark.length) : bytes;
}

function firstInk(bytes: Uint8Array): number {
  let at = 0;
  while (at < bytes.length && blanks.includes(bytes[at] as number)) at++;
  return at;
}
