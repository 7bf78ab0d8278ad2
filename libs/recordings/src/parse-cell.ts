/** A value as text recordings write it. */

/** What a cell is when it is neither a number nor a way of writing "no value". */
export const notANumber = Symbol('not a number');

const noValue = new Set(['', 'nan', 'null', '-nan', '+nan']);
const numberText = /^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$/;
const infinityText = /^([+-]?)inf(inity)?$/i;

/**
 * The number in a cell.
 *
 * Missing: NaN for a blank, `NaN` or `null` in any case; an infinity stays one and is implausible later.
 */
export function parseCell(text: string): number | typeof notANumber {
  const value = Number(text);
  // Number() takes more than decimal notation ("0x1F", "", " "), so only what looks like it passes here.
  if (value === value && numberText.test(text)) return value;
  const trimmed = text.trim();
  if (noValue.has(trimmed.toLowerCase())) return Number.NaN;
  if (numberText.test(trimmed)) return Number(trimmed);
  const infinity = infinityText.exec(trimmed);
  if (infinity !== null) return infinity[1] === '-' ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY;
  return notANumber;
}
