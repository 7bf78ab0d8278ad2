/** The fleet of an invented quarry, one machine for each habit and more. */

import type { MachineProfileInput } from '@warmbrick/signals';
import type { SimulatedChannel } from './readings.js';
import type { SimulatedMachine } from './simulated-machine.js';

const site = { site: 'Skarnfell quarry', timeZone: 'Europe/Oslo' } as const;

const dayShift: MachineProfileInput['shifts'] = [{ name: 'day', start: '06:00', end: '16:00' }];
const twoShifts: MachineProfileInput['shifts'] = [
  { name: 'early', start: '05:30', end: '14:00' },
  { name: 'late', start: '14:00', end: '23:00' },
];
const roundTheClock: MachineProfileInput['shifts'] = [
  { name: 'day', start: '06:00', end: '18:00' },
  { name: 'night', start: '18:00', end: '06:00' },
];

/** What a machine with few sensors sends: the three signals that everything hangs on. */
const threeSignals: readonly SimulatedChannel[] = ['engineSpeedRpm', 'engineLoadPct', 'exhaustTempC'];

const usualSignals: readonly SimulatedChannel[] = [
  'engineSpeedRpm',
  'engineLoadPct',
  'turbineOutTempC',
  'scrInletTempC',
  'coolantTempC',
  'ambientTempC',
  'fuelRateLPerH',
  'defLevelPct',
  'defTempC',
  'engineHours',
  'idleHours',
];

const fullSignals: readonly SimulatedChannel[] = [
  ...usualSignals,
  'dpfInletTempC',
  'scrOutletTempC',
  'oilTempC',
  'exhaustFlowKgPerH',
  'defDosingGPerH',
  'dpfSootPct',
  'totalFuelL',
];

/** Eight machines of Skarnfell quarry; site, machines and names are invented. */
export const quarryFleet: readonly SimulatedMachine[] = [
  {
    machineId: 'loader-01',
    habit: 'careful',
    channels: fullSignals,
    engineHours: 4218.4,
    idleHours: 986.2,
    defLevelPct: 82,
    sootPct: 22,
    profile: { ...site, name: 'Wheel loader 1', machineClass: 'wheel loader', shifts: roundTheClock, ...size(11, 250) },
  },
  {
    machineId: 'loader-02',
    habit: 'idler',
    channels: fullSignals,
    engineHours: 6054.7,
    idleHours: 2713.5,
    defLevelPct: 44,
    sootPct: 58,
    profile: { ...site, name: 'Wheel loader 2', machineClass: 'wheel loader', shifts: twoShifts, ...size(11, 250) },
  },
  {
    machineId: 'hauler-01',
    habit: 'hurried',
    channels: usualSignals,
    gateway: { awakeAfterKeyOffS: 0 },
    engineHours: 7390.2,
    idleHours: 1650.8,
    defLevelPct: 31,
    sootPct: 30,
    profile: { ...site, name: 'Haul truck 1', machineClass: 'haul truck', shifts: roundTheClock, ...size(13, 320) },
  },
  {
    machineId: 'hauler-02',
    habit: 'careful',
    channels: usualSignals,
    engineHours: 7122.9,
    idleHours: 1702.1,
    defLevelPct: 67,
    sootPct: 28,
    profile: { ...site, name: 'Haul truck 2', machineClass: 'haul truck', shifts: twoShifts, ...size(13, 320) },
  },
  {
    machineId: 'excavator-01',
    habit: 'idler',
    channels: threeSignals,
    gateway: { awakeAfterKeyOffS: 0 },
    profile: { ...site, name: 'Excavator 1', machineClass: 'excavator', shifts: dayShift, ...size(9.3, 210) },
  },
  {
    machineId: 'excavator-02',
    habit: 'cold-starter',
    channels: usualSignals,
    engineHours: 2871.3,
    idleHours: 803.6,
    defLevelPct: 55,
    sootPct: 40,
    profile: { ...site, name: 'Excavator 2', machineClass: 'excavator', shifts: dayShift, ...size(9.3, 210) },
  },
  {
    machineId: 'handler-01',
    habit: 'light-duty',
    channels: fullSignals,
    engineHours: 1944.1,
    idleHours: 733.4,
    defLevelPct: 73,
    sootPct: 71,
    profile: { ...site, name: 'Telehandler 1', machineClass: 'telehandler', shifts: twoShifts, ...size(4.5, 95) },
  },
  {
    machineId: 'forwarder-01',
    habit: 'hurried',
    channels: usualSignals,
    gateway: { awakeAfterKeyOffS: 0, samplePeriodS: 5 },
    sensorFaults: [{ channel: 'coolantTempC', kind: 'error', ratio: 0.15 }],
    engineHours: 5310.6,
    idleHours: 1188.9,
    defLevelPct: 26,
    sootPct: 35,
    profile: { ...site, name: 'Forwarder 1', machineClass: 'forwarder', shifts: dayShift, ...size(6.7, 150) },
  },
];

function size(displacementL: number, ratedPowerKW: number) {
  return { displacementL, ratedPowerKW, particulateFilterL: Math.round(displacementL * 1.5) };
}
