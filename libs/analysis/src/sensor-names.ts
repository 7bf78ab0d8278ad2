/** What people call the sensors that may come to be suspect. */

const names: Readonly<Record<string, string>> = {
  exhaustTempC: 'exhaust temperature',
  turbineOutTempC: 'temperature behind the turbine',
  docInletTempC: 'temperature before the oxidation catalyst',
  dpfInletTempC: 'temperature before the particulate filter',
  dpfOutletTempC: 'temperature behind the particulate filter',
  scrInletTempC: 'temperature before the SCR catalyst',
  scrOutletTempC: 'temperature behind the SCR catalyst',
  coolantTempC: 'coolant temperature',
};

/** The name of a channel's sensor. Missing: the channel's own name for one that has none. */
export function sensorName(channel: string): string {
  return names[channel] ?? channel;
}
