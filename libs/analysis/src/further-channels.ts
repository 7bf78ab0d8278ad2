/** Channels beyond the ones that everything needs. */

import type { ChannelName } from '@warmbrick/signals';

/** Channels that some detectors read where they are sent. */
export const furtherChannels = [
  'exhaustFlowKgPerH',
  'turbineOutTempC',
  'docInletTempC',
  'dpfInletTempC',
  'dpfOutletTempC',
  'scrInletTempC',
  'scrOutletTempC',
  'dpfSootPct',
  'dpfDeltaPressureKPa',
  'activeRegenState',
  'regenInhibitedState',
  'defLevelPct',
  'defTempC',
  'defConcentrationPct',
  'defPropertyState',
  'defDosingGPerH',
  'defTankHeaterPct',
  'noxInPpm',
  'noxOutPpm',
  'airFilterDeltaPressureKPa',
  'inducementSeverity',
  'torqueLimitPct',
  'derateRequestPct',
  'torqueModeState',
] as const satisfies readonly ChannelName[];
export type FurtherChannel = (typeof furtherChannels)[number];
/** Columns by channel; one that is not here was not sent. */
export type FurtherColumns = Readonly<Partial<Record<FurtherChannel, Float32Array>>>;
