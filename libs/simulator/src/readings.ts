/** Every quantity that a simulated machine can send, and its readings at one second. */

import type { ChannelName } from '@warmbrick/signals';

/** What every machine has. */
const plainChannels = [
  'engineSpeedRpm',
  'engineLoadPct',
  'exhaustTempC',
  'turbineOutTempC',
  'docInletTempC',
  'dpfInletTempC',
  'scrInletTempC',
  'scrOutletTempC',
  'coolantTempC',
  'oilTempC',
  'ambientTempC',
  'fuelRateLPerH',
  'exhaustFlowKgPerH',
  'defLevelPct',
  'defTempC',
  'defDosingGPerH',
  'dpfSootPct',
  'engineHours',
  'idleHours',
  'totalFuelL',
] as const satisfies readonly ChannelName[];

/** What only a machine with `aftertreatment` has; without it there is no value. */
const aftertreatmentChannels = [
  'docOutletTempC',
  'dpfOutletTempC',
  'defConcentrationPct',
  'defPropertyState',
  'defDosingRequestedGPerH',
  'defTankHeaterPct',
  'noxInPpm',
  'noxOutPpm',
  'dpfAshPct',
  'dpfDeltaPressureKPa',
  'activeRegenState',
  'regenInhibitedState',
  'regenNeedState',
  'airFilterDeltaPressureKPa',
  'torqueLimitPct',
  'inducementSeverity',
] as const satisfies readonly ChannelName[];

/** Every quantity that a simulated machine can send. */
export const simulatedChannels = [...plainChannels, ...aftertreatmentChannels] as const;

export type SimulatedChannel = (typeof simulatedChannels)[number];

/** Readings of a machine at one second, by channel; mutable. */
export type Readings = Record<SimulatedChannel, number> & {
  /** What really leaves the engine, sensor or not. */
  noxEngineOutPpm: number;
};

/** Written out, because an object with its shape known from the start is read and written many times faster. */
export function blankReadings(): Readings {
  return {
    engineSpeedRpm: 0,
    engineLoadPct: 0,
    exhaustTempC: 0,
    turbineOutTempC: 0,
    docInletTempC: 0,
    dpfInletTempC: 0,
    scrInletTempC: 0,
    scrOutletTempC: 0,
    coolantTempC: 0,
    oilTempC: 0,
    ambientTempC: 0,
    fuelRateLPerH: 0,
    exhaustFlowKgPerH: 0,
    defLevelPct: 0,
    defTempC: 0,
    defDosingGPerH: 0,
    dpfSootPct: 0,
    engineHours: 0,
    idleHours: 0,
    totalFuelL: 0,
    docOutletTempC: Number.NaN,
    dpfOutletTempC: Number.NaN,
    defConcentrationPct: Number.NaN,
    defPropertyState: Number.NaN,
    defDosingRequestedGPerH: Number.NaN,
    defTankHeaterPct: Number.NaN,
    noxInPpm: Number.NaN,
    noxOutPpm: Number.NaN,
    dpfAshPct: Number.NaN,
    dpfDeltaPressureKPa: Number.NaN,
    activeRegenState: Number.NaN,
    regenInhibitedState: Number.NaN,
    regenNeedState: Number.NaN,
    airFilterDeltaPressureKPa: Number.NaN,
    torqueLimitPct: Number.NaN,
    inducementSeverity: Number.NaN,
    noxEngineOutPpm: 0,
  };
}

/** How each channel is read: a property by its written-out name is read several times faster than by a name in hand. */
export const readerOf: Readonly<Record<SimulatedChannel, (readings: Readings) => number>> = {
  engineSpeedRpm: (readings) => readings.engineSpeedRpm,
  engineLoadPct: (readings) => readings.engineLoadPct,
  exhaustTempC: (readings) => readings.exhaustTempC,
  turbineOutTempC: (readings) => readings.turbineOutTempC,
  docInletTempC: (readings) => readings.docInletTempC,
  dpfInletTempC: (readings) => readings.dpfInletTempC,
  scrInletTempC: (readings) => readings.scrInletTempC,
  scrOutletTempC: (readings) => readings.scrOutletTempC,
  coolantTempC: (readings) => readings.coolantTempC,
  oilTempC: (readings) => readings.oilTempC,
  ambientTempC: (readings) => readings.ambientTempC,
  fuelRateLPerH: (readings) => readings.fuelRateLPerH,
  exhaustFlowKgPerH: (readings) => readings.exhaustFlowKgPerH,
  defLevelPct: (readings) => readings.defLevelPct,
  defTempC: (readings) => readings.defTempC,
  defDosingGPerH: (readings) => readings.defDosingGPerH,
  dpfSootPct: (readings) => readings.dpfSootPct,
  engineHours: (readings) => readings.engineHours,
  idleHours: (readings) => readings.idleHours,
  totalFuelL: (readings) => readings.totalFuelL,
  docOutletTempC: (readings) => readings.docOutletTempC,
  dpfOutletTempC: (readings) => readings.dpfOutletTempC,
  defConcentrationPct: (readings) => readings.defConcentrationPct,
  defPropertyState: (readings) => readings.defPropertyState,
  defDosingRequestedGPerH: (readings) => readings.defDosingRequestedGPerH,
  defTankHeaterPct: (readings) => readings.defTankHeaterPct,
  noxInPpm: (readings) => readings.noxInPpm,
  noxOutPpm: (readings) => readings.noxOutPpm,
  dpfAshPct: (readings) => readings.dpfAshPct,
  dpfDeltaPressureKPa: (readings) => readings.dpfDeltaPressureKPa,
  activeRegenState: (readings) => readings.activeRegenState,
  regenInhibitedState: (readings) => readings.regenInhibitedState,
  regenNeedState: (readings) => readings.regenNeedState,
  airFilterDeltaPressureKPa: (readings) => readings.airFilterDeltaPressureKPa,
  torqueLimitPct: (readings) => readings.torqueLimitPct,
  inducementSeverity: (readings) => readings.inducementSeverity,
};
