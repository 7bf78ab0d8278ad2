/** Lines of CAN logs -> frames. */

interface CanFrame {
  /** As written: seconds of a candump log as ms, relative or of the epoch. */
  readonly timeMs: number;
  readonly bus: string;
  /** 29-bit identifier. */
  readonly id: number;
  /** Shared by all frames of one parser; valid until the next line. */
  readonly data: Uint8Array;
  readonly length: number;
}

/** A parser of lines; a text says why a line is no frame. */
export type FrameParser = (line: string) => CanFrame | string;

/** Source: can-utils, candump -L: "(seconds) bus id#data". */
const logForm = /^\s*\((\d+\.\d+)\)\s+(\S+)\s+([0-9A-Fa-f]+)#(.*)$/;
/** Source: can-utils, candump -t: "(seconds) bus id [length] bytes", with -a also the bytes as text. */
const columnForm = /^\s*\((\d+\.\d+)\)\s+(\S+)\s+([0-9A-Fa-f]+)\s+\[(\d+)\]\s*([^']*)('.*)?$/;
const extendedIdDigits = 8;
const largestExtendedId = 0x1fffffff;
const mostBytes = 8;
/** Source: SAE J1939-21, 5.2: destination-specific below PDU format 240. */
const firstBroadcastFormat = 240;

/** Creates the parser of both forms of candump. */
export function createCandumpParser(): FrameParser {
  const data = new Uint8Array(mostBytes);
  return (line) => {
    const log = logForm.exec(line);
    const columns = log === null ? columnForm.exec(line) : null;
    const parts = log ?? columns;
    if (parts === null) return 'expected "(seconds) bus id#data" or "(seconds) bus id [length] bytes"';
    const idText = parts[3] as string;
    const id = Number.parseInt(idText, 16);
    if (idText.length !== extendedIdDigits || id > largestExtendedId) {
      return `identifier ${idText} is not one of 29 bits; J1939 has no others`;
    }
    const bytes = log === null ? (parts[5] as string) : (parts[4] as string);
    const length = parseBytes(bytes, data);
    if (length < 0) return `data "${bytes.slice(0, 40)}" is not up to 8 bytes in hexadecimal`;
    if (columns !== null && Number(parts[4]) !== length) return `says ${parts[4]} bytes but holds ${length}`;
    return { timeMs: Number(parts[1]) * 1000, bus: parts[2] as string, id, data, length };
  };
}

/** Names of the columns of a CSV of CAN frames that a frame is made of. */
const frameColumns = ['time', 'pgn', 'priority', 'source', 'destination', 'data'] as const;

/**
 * Creates the parser of the rows of a CSV of CAN frames from its header.
 *
 * Missing: the names of the columns that are not there.
 */
export function createCanCsvParser(header: string): FrameParser | readonly string[] {
  const names = header.split(',').map((name) => name.trim().toLowerCase());
  const at = Object.fromEntries(frameColumns.map((name) => [name, names.indexOf(name)])) as Record<
    (typeof frameColumns)[number],
    number
  >;
  const absent = frameColumns.filter((name) => at[name] < 0);
  if (absent.length > 0) return absent;
  const data = new Uint8Array(mostBytes);
  const last = Math.max(...Object.values(at));
  return (line) => {
    const cells = line.split(',');
    if (cells.length <= last) return `expected ${names.length} cells, found ${cells.length}`;
    const timeMs = parseDecimal(cells[at.time]);
    if (!(timeMs >= 0)) return `time "${cells[at.time]}" is not a count of milliseconds`;
    const id = toIdentifier({
      pgn: parseDecimal(cells[at.pgn]),
      priority: parseDecimal(cells[at.priority]),
      source: parseDecimal(cells[at.source]),
      destination: parseDecimal(cells[at.destination]),
    });
    if (id < 0) return 'pgn, priority, source and destination are not those of a J1939 frame';
    const length = parseBytes(cells[at.data] as string, data);
    if (length < 0) return `data "${(cells[at.data] as string).slice(0, 40)}" is not up to 8 bytes in hexadecimal`;
    return { timeMs, bus: 'can0', id, data, length };
  };
}

interface IdentifierParts {
  readonly pgn: number;
  readonly priority: number;
  readonly source: number;
  readonly destination: number;
}

/**
 * The 29-bit identifier of a J1939 frame, or -1 when a part is out of its range.
 *
 * Source: SAE J1939-21, 5.2: priority 3 bits, PGN 18 bits whose low byte is the destination below format 240, source 8.
 */
function toIdentifier(parts: IdentifierParts): number {
  const { pgn, priority, source, destination } = parts;
  if (!isWithin(pgn, 0x3ffff) || !isWithin(priority, 7) || !isWithin(source, 255) || !isWithin(destination, 255))
    return -1;
  const isAddressed = ((pgn >> 8) & 0xff) < firstBroadcastFormat;
  const middle = isAddressed ? (pgn & 0x3ff00) | destination : pgn;
  return priority * 0x4000000 + middle * 256 + source;
}

function isWithin(value: number, largest: number): boolean {
  return Number.isInteger(value) && value >= 0 && value <= largest;
}

function parseDecimal(text: string | undefined): number {
  return text === undefined || text.trim() === '' ? Number.NaN : Number(text);
}

/** Reads bytes in hexadecimal, with or without blanks; the count of them, or -1. */
function parseBytes(text: string, data: Uint8Array): number {
  let count = 0;
  let high = -1;
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (code === 32 || code === 13 || code === 9) {
      if (high >= 0) return -1;
      continue;
    }
    const digit = hexDigit(code);
    if (digit < 0 || count >= mostBytes) return -1;
    if (high < 0) {
      high = digit;
    } else {
      data[count++] = high * 16 + digit;
      high = -1;
    }
  }
  return high < 0 ? count : -1;
}

function hexDigit(code: number): number {
  if (code >= 48 && code <= 57) return code - 48;
  if (code >= 65 && code <= 70) return code - 55;
  return code >= 97 && code <= 102 ? code - 87 : -1;
}
