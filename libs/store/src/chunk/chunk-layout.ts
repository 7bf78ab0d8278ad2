/**
 * The wire format of archived chunks, frozen: what is written here once is read for ever.
 *
 * A chunk is two bytes, format and codec, the lengths of the body and of the packed body as varints, then the packed
 * body: machine id, number of samples, times, number of channels, and for each channel its id, kind, gaps and values.
 * A new step or offset of a channel gets a new entry with a new id at the end; entries never change or go.
 */

import { type ChannelName, channels, isWideChannel } from '@warmbrick/signals';

/** First byte of a chunk. */
export const chunkFormat = 1;

/**
 * Second byte of a chunk: zlib with its checksum, or the body as it is, followed by its CRC-32, big end first. Chunks that
 * will soon be put together are not packed. Other codecs get other numbers.
 */
export const codecZlib = 1;
export const codecPlain = 2;

/** Longest body that is unpacked, in bytes: an hour at a sample a millisecond in a few channels. */
export const maxBodyBytes = 64_000_000;

/** Most samples of a chunk: an hour has this many milliseconds. */
export const maxChunkSamples = 3_600_000;

export const timeKinds = { wholeMs: 0, raw: 1 } as const;

/** How a channel's values are written: counts on the grid, or bit for bit when one of them is off the grid. */
export const valueKinds = { counts: 0, raw: 1 } as const;

export interface ChannelLayout {
  readonly id: number;
  readonly name: ChannelName;
  readonly resolution: number;
  readonly offset: number;
  readonly isWide: boolean;
}

/**
 * Channels by id. The id is the place in this list, counted from 1.
 * Source of steps and offsets: the channel catalogue when the entry was made.
 */
const entries: readonly (readonly [name: ChannelName, resolution: number, offset: number])[] = [
  ['engineSpeedRpm', 0.125, 0],
  ['engineLoadPct', 1, 0],
  ['exhaustTempC', 0.03125, -273],
  ['turbineOutTempC', 0.03125, -273],
  ['docInletTempC', 0.03125, -273],
  ['docOutletTempC', 0.03125, -273],
  ['dpfInletTempC', 0.03125, -273],
  ['dpfOutletTempC', 0.03125, -273],
  ['scrInletTempC', 0.03125, -273],
  ['scrOutletTempC', 0.03125, -273],
  ['coolantTempC', 1, -40],
  ['oilTempC', 0.03125, -273],
  ['ambientTempC', 0.03125, -273],
  ['intakeManifoldTempC', 1, -40],
  ['intakeManifoldPressureKPa', 2, 0],
  ['barometricPressureKPa', 0.5, 0],
  ['fuelRateLPerH', 0.05, 0],
  ['exhaustFlowKgPerH', 0.2, 0],
  ['actualTorquePct', 1, -125],
  ['defLevelPct', 0.4, 0],
  ['defTempC', 1, -40],
  ['defConcentrationPct', 0.25, 0],
  ['defPropertyState', 1, 0],
  ['defDosingGPerH', 0.3, 0],
  ['defDosingRequestedGPerH', 0.3, 0],
  ['defTankHeaterPct', 0.4, 0],
  ['scrSystemState', 1, 0],
  ['scrConversionPct', 0.4, 0],
  ['noxInPpm', 0.05, -200],
  ['noxOutPpm', 0.05, -200],
  ['dpfSootPct', 1, 0],
  ['dpfAshPct', 1, 0],
  ['dpfDeltaPressureKPa', 0.1, 0],
  ['activeRegenState', 1, 0],
  ['regenInhibitedState', 1, 0],
  ['regenNeedState', 1, 0],
  ['airFilterDeltaPressureKPa', 0.05, 0],
  ['engineHours', 0.05, 0],
  ['idleHours', 0.05, 0],
  ['totalFuelL', 0.5, 0],
  ['torqueLimitPct', 0.4, 0],
  ['torqueModeState', 1, 0],
  ['derateRequestPct', 0.4, 0],
  ['inducementSeverity', 1, 0],
  ['batteryV', 0.05, 0],
  ['vehicleSpeedKmPerH', 0.00390625, 0],
];

const layouts: readonly ChannelLayout[] = entries.map(([name, resolution, offset], place) => ({
  id: place + 1,
  name,
  resolution,
  offset,
  isWide: isWideChannel(name),
}));

const newest = new Map(layouts.map((layout) => [layout.name, layout]));

/** The layout that a channel is written with. Errors: throws for a channel that was never given an id (a bug). */
export function layoutOf(name: ChannelName): ChannelLayout {
  const layout = newest.get(name);
  if (layout === undefined) throw new Error(`channel ${channels[name].name} has no id in the chunk layout`);
  return layout;
}

/** The layout of an id; undefined for an id that this version does not know. */
export function layoutById(id: number): ChannelLayout | undefined {
  return layouts[id - 1];
}
