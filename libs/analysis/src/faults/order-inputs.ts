/** One order for inputs, however they arrived. */

import { type FaultInput, isFaultList } from './fault-episode.js';

/** Inputs by time, and at one time in an order that hangs on their content alone; of equal ones only one. */
export function inCanonicalOrder(inputs: readonly FaultInput[]): FaultInput[] {
  const keyed = inputs.map((input) => ({ input, text: canonicalText(input) }));
  keyed.sort((a, b) => a.input.timeMs - b.input.timeMs || (a.text < b.text ? -1 : a.text > b.text ? 1 : 0));
  return keyed
    .filter(
      ({ input, text }, i) => i === 0 || keyed[i - 1]?.text !== text || keyed[i - 1]?.input.timeMs !== input.timeMs,
    )
    .map(({ input }) => input);
}

function canonicalText(input: FaultInput): string {
  if (!isFaultList(input)) {
    const { sourceAddress, kind, origin, spn, fmi, conversionMethod = 0, occurrenceCount = null } = input;
    return JSON.stringify([1, sourceAddress, kind, origin, spn, fmi, conversionMethod, occurrenceCount, input.lamps]);
  }
  const codes = input.codes.map((code) => [code.spn, code.fmi, code.conversionMethod, code.occurrenceCount]);
  return JSON.stringify([0, input.sourceAddress, input.kind, codes, input.lamps, input.flash]);
}
