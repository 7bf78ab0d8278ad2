/** The channels that the charts offer, each in a panel of its own. */

import type { ChannelName, ExhaustSource } from '@warmbrick/signals';

export interface Panel {
  readonly key: string;
  readonly title: string;
  readonly unit: string;
  readonly channel: ChannelName;
}

/** Channels that can stand for the exhaust temperature, best first, and what each is called. Source: the channel catalogue. */
const exhaustNames: Readonly<Record<ExhaustSource, string>> = {
  exhaustTempC: 'Exhaust temperature',
  scrInletTempC: 'Exhaust temperature, SCR inlet',
  dpfInletTempC: 'Exhaust temperature, DPF inlet',
  docInletTempC: 'Exhaust temperature, DOC inlet',
  turbineOutTempC: 'Exhaust temperature, turbine outlet',
};

export const exhaustChannels = Object.keys(exhaustNames) as readonly ExhaustSource[];

/** Panels besides the exhaust temperature, in the order they are stacked. */
export const panelChoices: readonly Panel[] = [
  { key: 'load', title: 'Engine load', unit: '%', channel: 'engineLoadPct' },
  { key: 'rpm', title: 'Engine speed', unit: 'rpm', channel: 'engineSpeedRpm' },
  { key: 'coolant', title: 'Coolant', unit: 'degC', channel: 'coolantTempC' },
  { key: 'scr', title: 'SCR outlet', unit: 'degC', channel: 'scrOutletTempC' },
  { key: 'fuel', title: 'Fuel rate', unit: 'L/h', channel: 'fuelRateLPerH' },
  { key: 'soot', title: 'Filter soot load', unit: '%', channel: 'dpfSootPct' },
  { key: 'def', title: 'DEF level', unit: '%', channel: 'defLevelPct' },
  { key: 'nox', title: 'NOx out', unit: 'ppm', channel: 'noxOutPpm' },
];

const usualKeys = ['load', 'rpm'];

/** Keys of the panels that the address asks for; load and speed when it asks for none. "none" shows neither. */
export function panelKeys(asked: string | null): readonly string[] {
  if (asked === null) return usualKeys;
  const words = asked.split(',');
  return panelChoices.map((choice) => choice.key).filter((key) => words.includes(key));
}

/** The address's words for a set of panels. Missing: null for the usual set. */
export function panelQuery(keys: readonly string[]): string | null {
  if (keys.length === usualKeys.length && usualKeys.every((key) => keys.includes(key))) return null;
  return keys.length === 0 ? 'none' : keys.join(',');
}

/** The channel that stood for the exhaust temperature the longest. Missing: the best of the catalogue. */
export function mainExhaustChannel(exhaustSourceS: Readonly<Record<string, number>>): ExhaustSource {
  const timeOf = (channel: ExhaustSource) => exhaustSourceS[channel] ?? 0;
  return exhaustChannels.reduce((longest, channel) => (timeOf(channel) > timeOf(longest) ? channel : longest));
}

/** The panel of the exhaust temperature. */
export function exhaustPanel(channel: ExhaustSource): Panel {
  return { key: 'exhaust', title: exhaustNames[channel], unit: 'degC', channel };
}
