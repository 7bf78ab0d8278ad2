/** What one reading of recordings accumulates beside the samples. */

import { basename } from 'node:path';
import type { ChannelName, FaultReport, SampleBlock } from '@warmbrick/signals';
import { channelNames } from '@warmbrick/signals';
import type { ReadOptions, RecordingFormat, UnusableCounts, UnusableReason } from './recording.js';
import { RejectTally } from './reject-tally.js';

/** Where readers put what they read. */
export interface Outlet {
  block(block: SampleBlock): void;
  faults(reports: readonly FaultReport[]): void;
}

export interface ReadState {
  readonly options: ReadOptions;
  readonly rejects: RejectTally;
  readonly unusable: Record<string, UnusableCounts>;
  readonly formats: Set<RecordingFormat>;
  readonly warnings: Set<string>;
  frames: number;
  incompleteTransfers: number;
  samples: number;
  faultReports: number;
  duplicates: number;
  conflicts: number;
}

/** Samples in a block when the options do not say. */
export const defaultBlockSamples = 65_536;
const longestMachineId = 128;
/** Warnings kept; each names something different. */
const warningsKept = 50;
const knownEnding = /\.(gz|csv|tsv|txt|log|candump|ndjson|jsonl|json|parquet)$/i;
const controlCharacter = /\p{Cc}/u;

export function createReadState(options: ReadOptions): ReadState {
  return {
    options,
    rejects: new RejectTally(),
    unusable: {},
    formats: new Set(),
    warnings: new Set(),
    frames: 0,
    incompleteTransfers: 0,
    samples: 0,
    faultReports: 0,
    duplicates: 0,
    conflicts: 0,
  };
}

export function warn(state: ReadState, text: string): void {
  if (state.warnings.size < warningsKept) state.warnings.add(text);
}

/** Adds to the count of values thrown away. */
export function countUnusable(
  state: ReadState,
  machineId: string,
  what: { readonly channel: string; readonly reason: UnusableReason; readonly count: number },
): void {
  if (what.count === 0) return;
  state.unusable[machineId] ??= {};
  const ofMachine = state.unusable[machineId];
  ofMachine[what.channel] ??= {};
  const ofChannel = ofMachine[what.channel] as Partial<Record<UnusableReason, number>>;
  ofChannel[what.reason] = (ofChannel[what.reason] ?? 0) + what.count;
}

/** Channels that the options ask for, in catalogue order. */
export function wantedChannels(options: ReadOptions): readonly ChannelName[] {
  const wanted = options.channels;
  return wanted === undefined ? channelNames : channelNames.filter((name) => wanted.includes(name));
}

/** A machine id as the project keeps it, or null when a text cannot be one. Range: 1-128 characters, none of control. */
export function toMachineId(text: string): string | null {
  const id = text.trim();
  return id === '' || id.length > longestMachineId || controlCharacter.test(id) ? null : id;
}

/** The machine of a recording that names none: as the options say, else the file's name without its endings. */
export function fallbackMachineId(path: string, options: ReadOptions): string {
  if (options.machineId !== undefined) return options.machineId;
  let name = path === '-' ? 'standard-input' : basename(path);
  while (knownEnding.test(name)) name = name.replace(knownEnding, '');
  return toMachineId(name) ?? 'unnamed';
}
