/** Operating modes in words. */

import type { MachineItem } from '@warmbrick/contracts';

export type Mode = MachineItem['mode'];

const words: Readonly<Record<Mode, string>> = {
  unobserved: 'not observed',
  off: 'engine off',
  cranking: 'cranking',
  idle: 'idling',
  'cooling-down': 'cooling down',
  light: 'light work',
  working: 'working',
};

/** The mode as it is said: "idling" while samples arrive, "was idling" once the machine has gone silent. */
export function modeWords(mode: Mode, isSilent: boolean): string {
  const said = words[mode] ?? mode;
  return isSilent && mode !== 'unobserved' ? `was ${said.replace('engine off', 'off')}` : said;
}
