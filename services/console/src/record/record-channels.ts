/** The channels that the charts offer, and the panel each belongs to. */

export interface Panel {
  readonly key: string;
  readonly title: string;
  readonly unit: string;
  /** Channels drawn in it; of the first panel, the best exhaust temperature comes first. */
  readonly channels: readonly PanelChannel[];
}

export interface PanelChannel {
  readonly name: string;
  readonly label: string;
}

/** Channels that can stand for the exhaust temperature, best first; the same order as the channel catalogue's. */
export const exhaustChannels = [
  'exhaustTempC',
  'scrInletTempC',
  'dpfInletTempC',
  'docInletTempC',
  'turbineOutTempC',
] as const;

const labels: Readonly<Record<string, string>> = {
  exhaustTempC: 'exhaust',
  scrInletTempC: 'SCR inlet',
  dpfInletTempC: 'DPF inlet',
  docInletTempC: 'DOC inlet',
  turbineOutTempC: 'turbine outlet',
};

/** Panels besides the exhaust temperature, in the order they are stacked. */
export const panelChoices: readonly Panel[] = [
  panel('load', 'Engine load', '%', [['engineLoadPct', 'load']]),
  panel('rpm', 'Engine speed', 'rpm', [['engineSpeedRpm', 'speed']]),
  panel('coolant', 'Coolant', 'degC', [['coolantTempC', 'coolant']]),
  panel('scr', 'SCR outlet', 'degC', [['scrOutletTempC', 'SCR outlet']]),
  panel('fuel', 'Fuel rate', 'L/h', [['fuelRateLPerH', 'fuel rate']]),
  panel('soot', 'Filter soot load', '%', [['dpfSootPct', 'soot load']]),
  panel('def', 'DEF level', '%', [['defLevelPct', 'DEF level']]),
  panel('nox', 'NOx out', 'ppm', [['noxOutPpm', 'NOx out']]),
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
export function mainExhaustChannel(exhaustSourceS: Readonly<Record<string, number>>): string {
  const longest = Object.entries(exhaustSourceS).sort((a, b) => b[1] - a[1])[0];
  return longest !== undefined && longest[1] > 0 ? longest[0] : exhaustChannels[0];
}

/** The panel of the exhaust temperature. */
export function exhaustPanel(channel: string): Panel {
  const label = labels[channel] ?? channel;
  const title = channel === 'exhaustTempC' ? 'Exhaust temperature' : `Exhaust temperature, ${label}`;
  return panel('exhaust', title, 'degC', [[channel, label]]);
}

function panel(key: string, title: string, unit: string, channels: readonly (readonly [string, string])[]): Panel {
  return { key, title, unit, channels: channels.map(([name, label]) => ({ name, label })) };
}
