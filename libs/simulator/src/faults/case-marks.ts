/** The marks that a fault leaves on the signals of a machine. */

import type { ChannelName } from '@warmbrick/signals';
import type { Random } from '../random.js';
import type { CaseMechanism } from './derate-case.js';

type Row = Partial<Record<ChannelName, number>>;

interface Marking {
  readonly plan: { readonly ambientC: number; readonly failedLevelPct: number | null };
  /** How far the fault has come, 0..1. */
  readonly share: number;
  readonly random: Random;
}

interface MarkedTrouble {
  readonly mechanism: CaseMechanism;
  readonly spn: number;
}

type Mark = (row: Row, marking: Marking, spn: number) => void;

/** Changes a row as the fault would. */
export function markSignals(row: Row, { mechanism, spn }: MarkedTrouble, marking: Marking): void {
  marks[mechanism]?.(row, marking, spn);
}

/** So much of the conversion is left once the fault has come all the way. */
function lose(row: Row, conversionRatio: number, share: number): void {
  const noxInPpm = row.noxInPpm ?? 500;
  row.noxOutPpm = Math.max(row.noxOutPpm ?? 0, noxInPpm * (1 - conversionRatio * (1 - 0.6 * share)));
}

const marks: Readonly<Partial<Record<CaseMechanism, Mark>>> = {
  'bad-quality': (row, { share, random }) => {
    row.defConcentrationPct = 22 + 0.4 * random.normal();
    row.defPropertyState = 1;
    lose(row, 0.7, share);
  },
  'wrong-fluid': (row, { share, random }) => {
    delete row.defConcentrationPct;
    row.defPropertyState = random.next() < 0.7 ? 2 : 13;
    lose(row, 0.4, share);
  },
  'dosing-part': (row, { share }) => {
    row.defDosingGPerH = 0;
    lose(row, 0.3, share);
  },
  frozen: (row, { plan, share }) => {
    row.defTempC = plan.ambientC + 2;
    row.defTankHeaterPct = 100;
    row.defDosingGPerH = 0;
    lose(row, 0.3, share);
  },
  'nox-sensor': (row, _, spn) => {
    if (spn === 3226) delete row.noxOutPpm;
    else delete row.noxInPpm;
  },
  'level-sensor': (row, { plan }) => {
    if (plan.failedLevelPct !== null) row.defLevelPct = plan.failedLevelPct;
  },
  'quality-sensor': (row) => {
    delete row.defConcentrationPct;
    delete row.defPropertyState;
  },
  'worn-catalyst': (row, { share }) => lose(row, 0.6, share),
  soot: (row, { share }) => {
    row.dpfSootPct = 104 + 45 * share;
  },
  'hot-or-dry': (row, { share }, spn) => {
    if (spn === 110 || spn === 111) row.coolantTempC = 98 + 11 * share;
    if (spn === 175) row.oilTempC = 112 + 16 * share;
    if (spn === 105) row.intakeManifoldTempC = 70 + 18 * share;
  },
  'air-or-fuel': (row, { share }, spn) => {
    if (spn === 107) row.airFilterDeltaPressureKPa = 5.2 + 1.8 * share;
  },
  supply: (row, { random }, spn) => {
    if (spn === 168 || spn === 158) row.batteryV = 19.5 + 1.5 * random.normal();
  },
};
