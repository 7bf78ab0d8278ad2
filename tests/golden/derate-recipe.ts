/** The case of a derate whose cause has scrolled off the display: what else was told of while it ran. */

import type { FaultReport } from '@warmbrick/signals';
import type { SimulatedMachine } from '@warmbrick/simulator';

/** A body controller's codes, one more every few minutes from after the cause came; none of them takes power. */
const bodyAddress = 33;
const firstAfterS = 3600;
const everyS = 240;
/** Standard numbers of body and cab as tabulated by SAE J1939-71, from memory, and three of a maker's own. */
const bodyCodes = [
  [96, 17],
  [80, 17],
  [2003, 9],
  [520_310, 2],
  [177, 4],
  [520_311, 31],
  [1089, 2],
  [520_312, 5],
  [70, 13],
  [441, 3],
  [116, 17],
  [81, 2],
] as const;
/** Times said again, so that a controller that is only silent is not taken for one that cleared. */
const saidAgain = 3;

export const scrolledAwayStartMs = Date.UTC(2026, 2, 23, 5);

/** A dozer whose DEF is topped up with water in its first hour; the inducement follows two engine hours later. */
export const scrolledAwayMachine: SimulatedMachine = {
  machineId: 'dozer-12',
  habit: 'careful',
  profile: {
    site: 'Skarnfell quarry',
    timeZone: 'Europe/Oslo',
    machineClass: 'dozer',
    displacementL: 9,
    ratedPowerKW: 180,
    defTankL: 40,
  },
  gateway: { samplePeriodS: 5 },
  channels: [
    'engineSpeedRpm',
    'engineLoadPct',
    'scrInletTempC',
    'turbineOutTempC',
    'coolantTempC',
    'defLevelPct',
    'defConcentrationPct',
    'defDosingGPerH',
    'noxInPpm',
    'noxOutPpm',
    'engineHours',
    'torqueLimitPct',
    'inducementSeverity',
  ],
  engineHours: 6210,
  defLevelPct: 45,
  schedule: [
    { kind: 'start', durationS: 400 },
    { kind: 'work', durationS: 6000, loadPct: 74 },
    { kind: 'idle', durationS: 240 },
    { kind: 'work', durationS: 8000, loadPct: 70 },
    { kind: 'cool-down', durationS: 400 },
    { kind: 'off', durationS: 300 },
  ],
  aftertreatment: {
    inducementHours: [2, 20],
    fillBelowPct: 0,
    fills: [{ atS: 1500, litres: 18, batch: { batchId: 'unmarked can', ureaRatio: 0.02 } }],
  },
};

/** What the engine controller told, and over it what scrolled it away. */
export function withBodyCodes(machineId: string, engine: readonly FaultReport[]): FaultReport[] {
  const lamps = { malfunction: 'off', redStop: 'off', amberWarning: 'on', protect: 'off' } as const;
  const body: FaultReport[] = [];
  for (let count = 0; count <= bodyCodes.length; count++) {
    const codes = bodyCodes
      .slice(0, count)
      .map(([spn, fmi]) => ({ spn, fmi, occurrenceCount: 1, conversionMethod: 0 as const }));
    for (let again = 0; again < saidAgain; again++) {
      const timeMs = scrolledAwayStartMs + (firstAfterS + count * everyS + (again * everyS) / saidAgain) * 1000;
      body.push({ machineId, timeMs, sourceAddress: bodyAddress, kind: 'active', lamps, flash: 255, codes });
    }
  }
  return [...engine, ...body];
}
