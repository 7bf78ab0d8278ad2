/** Texts in the characters that the standard fonts of PDF have. */

/** Characters of WinAnsi beyond Latin-1. Source: ISO 32000-1, annex D.2. */
const beyondLatin1 = '€‚ƒ„…†‡ˆ‰Š‹ŒŽ‘’“”•–—˜™š›œžŸ';
/** What is written for characters that have a plain likeness. Source: common practice. */
const likeness: Readonly<Record<string, string>> = {
  '\u2212': '-',
  '\u2192': '->',
  '\u2264': '<=',
  '\u2265': '>=',
  '\u2248': '~',
  '\u2009': ' ',
  '\u202f': ' ',
  '\u2011': '-',
  ł: 'l',
  Ł: 'L',
  đ: 'd',
  Đ: 'D',
};

const plain = /^[\n -~]*$/;

/** The text with every character that WinAnsi lacks written by its likeness, its base letter or, at the last, "?". */
export function winAnsiText(text: string): string {
  if (plain.test(text)) return text;
  return [...text].map(written).join('');
}

function written(sign: string): string {
  if (isWinAnsi(sign)) return sign;
  const alike = likeness[sign];
  if (alike !== undefined) return alike;
  const base = sign.normalize('NFD').replace(/\p{M}/gu, '');
  return base !== '' && [...base].every(isWinAnsi) ? base : '?';
}

function isWinAnsi(sign: string): boolean {
  const code = sign.codePointAt(0) ?? 0;
  return code === 10 || (code >= 32 && code < 127) || (code >= 160 && code < 256) || beyondLatin1.includes(sign);
}
