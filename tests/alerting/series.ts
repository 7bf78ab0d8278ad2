/**
 * The series of scenario files: one mark an interval, with spaces between.
 *
 *   30*12        twelve times 30
 *   30>60*6      six values from 30 to 60, evenly
 *   .  n  w  s   of a finding: not there; going on as notice, warning, severe (i: info)
 *   w!           of a finding: a moment of this interval, over at once
 *   ?            of a figure: samples come, and this figure is missing
 *   -            no samples come in this interval, whatever the other series say
 */

export type Mark = { readonly text: string; readonly value: number | null };

/** Expands a series. Errors: throws on a symbol that is none, naming it. */
export function readSeries(text: string): Mark[] {
  return text
    .trim()
    .split(/\s+/)
    .flatMap((word) => {
      const found = /^(?<what>.+?)(?:\*(?<count>\d+))?$/.exec(word);
      const what = found?.groups?.what ?? '';
      const count = Number(found?.groups?.count ?? 1);
      const ramp = /^(-?[\d.]+)>(-?[\d.]+)$/.exec(what);
      if (ramp !== null) return rampOf(Number(ramp[1]), Number(ramp[2]), count);
      const isNumber = /^-?\d+(\.\d+)?$/.test(what);
      if (!isNumber && !/^([.?-]|[inws]!?)$/.test(what)) throw new Error(`"${word}" is no symbol of a series`);
      return Array.from({ length: count }, () => ({ text: what, value: isNumber ? Number(what) : null }));
    });
}

function rampOf(from: number, to: number, count: number): Mark[] {
  return Array.from({ length: count }, (_, i) => {
    const value = count === 1 ? to : from + ((to - from) * i) / (count - 1);
    return { text: String(value), value };
  });
}
