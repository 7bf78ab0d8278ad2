/** A machine of the invented quarry whose DEF was topped up with water: it warns, then loses power. */

import type { SimulatedMachine } from './simulated-machine.js';

/** From the start of the simulation to the wrong can, in seconds: late enough that a sound morning stands before it. */
const wrongCanS = 3 * 3600;

/** Site, machine and name are invented. */
export const quarryDozer: SimulatedMachine = {
  machineId: 'dozer-01',
  habit: 'careful',
  channels: [
    'engineSpeedRpm',
    'engineLoadPct',
    'turbineOutTempC',
    'scrInletTempC',
    'coolantTempC',
    'ambientTempC',
    'fuelRateLPerH',
    'defLevelPct',
    'defTempC',
    'defConcentrationPct',
    'defDosingGPerH',
    'noxInPpm',
    'noxOutPpm',
    'dpfSootPct',
    'engineHours',
    'idleHours',
    'torqueLimitPct',
    'inducementSeverity',
  ],
  engineHours: 5120.3,
  idleHours: 1204.7,
  defLevelPct: 40,
  sootPct: 30,
  aftertreatment: {
    inducementHours: [4, 30],
    // It is seldom filled, so that the can fits in at whatever hour the simulation begins.
    fillBelowPct: 12,
    fills: [{ atS: wrongCanS, litres: 20, batch: { batchId: 'unmarked can', ureaRatio: 0.02 } }],
  },
  profile: {
    site: 'Skarnfell quarry',
    timeZone: 'Europe/Oslo',
    name: 'Dozer 1',
    machineClass: 'dozer',
    shifts: [
      { name: 'day', start: '06:00', end: '18:00' },
      { name: 'night', start: '18:00', end: '06:00' },
    ],
    displacementL: 9,
    ratedPowerKW: 180,
    particulateFilterL: 14,
    defTankL: 40,
  },
};
