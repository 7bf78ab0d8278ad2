/** What a machine of a case sends of its signals: sound ones, with the marks of its fault and the lies of its sensors. */

import { type ChannelName, createColumn, quantiseColumn, type SampleBlock } from '@warmbrick/signals';
import type { Random } from '../random.js';
import type { EngineMinute } from './case-drive.js';
import { markSignals } from './case-marks.js';
import type { CaseMechanism } from './derate-case.js';

export interface SignalPlan {
  readonly machineId: string;
  readonly drive: readonly EngineMinute[];
  readonly troubles: readonly {
    readonly mechanism: CaseMechanism;
    readonly fromMinute: number;
    readonly spn: number;
    readonly fmi: number;
  }[];
  readonly derateMinute: number;
  readonly isInducement: boolean;
  /** Torque left in the derate, 0..1. */
  readonly torqueRatio: number;
  readonly severity: number;
  /** Share of the time to the derate after which a severity of warning is broadcast; over 1 it never is. */
  readonly warnsAfterRatio: number;
  readonly ambientC: number;
  /** Where a level sensor fails it reads this; null: it stays where it was. */
  readonly failedLevelPct: number | null;
  readonly channels: ReadonlySet<ChannelName>;
  /** Minutes that never arrived. */
  readonly isLost: (minute: number) => boolean;
}

type Row = Partial<Record<ChannelName, number>>;

/** Slow quantities as they go on from minute to minute. */
interface Slow {
  levelPct: number;
  exhaustC: number;
  sootPct: number;
  coolantC: number;
  airFilterKPa: number;
  hours: number;
}

/** Minutes from a weak to a full effect of hot coolant, clogging and the like. */
const rampMinutes = 25;

/** One sample for each engine minute, and one with the engine off after each run. */
export function signalsOf(plan: SignalPlan, random: Random): SampleBlock {
  const rows: { timeMs: number; values: Row }[] = [];
  const slow: Slow = {
    levelPct: startLevel(plan, random),
    exhaustC: 60,
    sootPct: random.between(20, 70),
    coolantC: 40,
    airFilterKPa: random.between(1.5, 3.2),
    hours: random.between(500, 9000),
  };
  const usePctPerMinute = random.between(3, 8) / 60;
  const lie = lieOf(plan, random);
  plan.drive.forEach((minute, i) => {
    advance(slow, plan, { minute, i, usePctPerMinute, random });
    const values = lie(i, marked(plan, i, { ...soundRow(slow, minute, plan, random) }, random));
    if (!plan.isLost(i)) rows.push({ timeMs: minute.timeMs, values });
    const next = plan.drive[i + 1];
    if (next?.isStart === true && !plan.isLost(i)) {
      const off = { ...values, engineSpeedRpm: 0, engineLoadPct: 0, fuelRateLPerH: 0 };
      rows.push({ timeMs: minute.timeMs + 60_000, values: off });
    }
  });
  return blockOf(plan, rows);
}

/** A tank that is going to run empty starts so that it gets there in time. */
function startLevel({ troubles, drive }: SignalPlan, random: Random): number {
  const empty = troubles.find(({ mechanism }) => mechanism === 'empty-tank');
  return empty === undefined || drive.length === 0 ? random.between(35, 95) : random.between(55, 95);
}

function advance(
  slow: Slow,
  plan: SignalPlan,
  at: { minute: EngineMinute; i: number; usePctPerMinute: number; random: Random },
): void {
  const { minute, i, usePctPerMinute, random } = at;
  const target = minute.isWorking ? 130 + 3.1 * minute.loadPct : 140;
  slow.exhaustC += (target - slow.exhaustC) * 0.18;
  slow.coolantC += ((minute.isWorking ? 88 : 82) - slow.coolantC) * 0.12;
  slow.sootPct = slow.sootPct > 98 ? 25 : slow.sootPct + (minute.isWorking ? 0.08 : 0.12);
  slow.hours += 1 / 60;
  const empty = plan.troubles.find(({ mechanism }) => mechanism === 'empty-tank');
  if (empty !== undefined) {
    // From what it is first told at down to nearly nothing when the power goes.
    const share = (i - empty.fromMinute) / Math.max(1, plan.derateMinute - empty.fromMinute);
    slow.levelPct = share < 0 ? Math.min(95, 10.5 - share * 12) : Math.max(0, 10.5 - 8.5 * share);
  } else {
    slow.levelPct -= usePctPerMinute * (minute.isWorking ? 0.6 : 0.1);
    if (slow.levelPct < 18 || (minute.isStart && slow.levelPct < 35 && random.next() < 0.6))
      slow.levelPct = random.between(82, 94);
  }
}

function soundRow(slow: Slow, minute: EngineMinute, plan: SignalPlan, random: Random): Row {
  const { loadPct, speedRpm, isWorking } = minute;
  const noxInPpm = 140 + 8 * loadPct + 30 * random.normal();
  const conversion = slow.exhaustC > 230 ? 0.94 : slow.exhaustC > 190 ? 0.6 : 0.1;
  return {
    engineSpeedRpm: speedRpm,
    engineLoadPct: loadPct,
    exhaustTempC: slow.exhaustC,
    scrInletTempC: slow.exhaustC - 6 + random.normal(),
    turbineOutTempC: slow.exhaustC + 18 + 3 * random.normal(),
    coolantTempC: slow.coolantC + random.normal(),
    oilTempC: slow.coolantC + 8 + random.normal(),
    intakeManifoldTempC: plan.ambientC + 25 + (isWorking ? 12 : 0) + random.normal(),
    ambientTempC: plan.ambientC + random.normal(),
    fuelRateLPerH: isWorking ? 0.42 * loadPct : 3,
    engineHours: slow.hours,
    defLevelPct: slow.levelPct + (isWorking ? 0.5 * random.normal() : 0),
    defConcentrationPct: 32.4 + 0.25 * random.normal(),
    defPropertyState: 3,
    defTempC: Math.max(plan.ambientC, -5) + 10,
    defTankHeaterPct: plan.ambientC < 0 ? 60 : 0,
    defDosingGPerH: slow.exhaustC > 210 ? 1.7 * noxInPpm : 0,
    noxInPpm,
    noxOutPpm: Math.max(3, noxInPpm * (1 - conversion) + 6 * random.normal()),
    dpfSootPct: slow.sootPct,
    airFilterDeltaPressureKPa: slow.airFilterKPa * (isWorking ? 1 : 0.3),
    batteryV: 27.8 + 0.15 * random.normal(),
    torqueLimitPct: isWorking ? 100 : 88,
    inducementSeverity: 0,
  };
}

/** The marks that troubles and derate leave on a sound row. */
function marked(plan: SignalPlan, i: number, row: Row, random: Random): Row {
  const { derateMinute, torqueRatio, isInducement, severity } = plan;
  for (const trouble of plan.troubles) {
    if (i < trouble.fromMinute) continue;
    const share = Math.min(1, (i - trouble.fromMinute + 10) / rampMinutes);
    markSignals(row, trouble, { plan, share, random });
    const passedRatio = (i - trouble.fromMinute) / Math.max(1, derateMinute - trouble.fromMinute);
    if (isInducement && passedRatio >= plan.warnsAfterRatio) row.inducementSeverity = passedRatio > 0.6 ? 2 : 1;
  }
  if (i >= derateMinute) {
    const ramp = Math.min(1, (i - derateMinute + 1) / 12);
    row.torqueLimitPct = (row.torqueLimitPct ?? 100) * (1 - (1 - torqueRatio) * ramp);
    if (isInducement) row.inducementSeverity = severity;
  }
  return row;
}

/** In some cases one sensor lies for reasons of its own, without a code. */
function lieOf({ drive }: SignalPlan, random: Random): (i: number, row: Row) => Row {
  if (random.next() >= 0.1) return (_, row) => row;
  const channel = (['defConcentrationPct', 'defLevelPct', 'noxOutPpm', 'coolantTempC', 'dpfSootPct'] as const)[
    Math.floor(random.next() * 5)
  ] as ChannelName;
  const from = Math.floor(random.next() * drive.length);
  let held: number | undefined;
  return (i, row) => {
    if (i < from || row[channel] === undefined) return row;
    held ??= row[channel];
    return { ...row, [channel]: held };
  };
}

function blockOf(plan: SignalPlan, rows: readonly { timeMs: number; values: Row }[]): SampleBlock {
  const names = [...plan.channels];
  const columns = names.map((name) => {
    const column = createColumn(name, rows.length);
    rows.forEach(({ values }, k) => {
      const value = values[name];
      if (value !== undefined) column[k] = value;
    });
    quantiseColumn(name, column);
    return [name, column] as const;
  });
  return {
    machineId: plan.machineId,
    timeMs: Float64Array.from(rows, ({ timeMs }) => timeMs),
    channels: Object.fromEntries(columns),
  };
}
