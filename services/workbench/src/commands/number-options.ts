/** Options that take a number within bounds. */

import { InvalidArgumentError, Option } from 'commander';

/** An option for a whole number. Errors: commander's, naming the bounds. */
export function wholeNumber(
  flags: string,
  description: string,
  { min, max }: { readonly min: number; readonly max: number },
): Option {
  return new Option(flags, description).argParser((text) => {
    const value = Number(text);
    if (text.trim() !== '' && Number.isInteger(value) && value >= min && value <= max) return value;
    throw new InvalidArgumentError(`Expected a whole number from ${min} to ${max}.`);
  });
}
