/** Where the samples of a trial come from: recordings, or periods of the store. */

import { analysedChannels } from '@warmbrick/analysis';
import { DamagedRecordingError, type ReadOptions, readInOrder } from '@warmbrick/recordings';
import { defaultProfile, type FaultReport, type MachineProfile, type SampleBlock } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import type { ProfileBook } from '../profile-book.js';

/** Receives each machine's samples in order of time; arrays may be reused after `block` returns. */
interface TrialSink {
  block(block: SampleBlock, profile: MachineProfile): void;
  faults?(reports: readonly FaultReport[]): void;
  /** Everything so far was in vain and comes again. */
  restart(): void;
}

export interface TrialSource {
  /** Hands over everything; gives what was wrong with a recording, of which all before the damage was handed over. */
  feed(sink: TrialSink): Promise<DamagedRecordingError | null>;
}

/** Recordings as a source, with the profiles of a book. */
export function recordingSource(
  paths: readonly string[],
  profiles: ProfileBook,
  reading: ReadOptions = {},
): TrialSource {
  return {
    async feed(sink) {
      const options = { channels: analysedChannels, lendBlocks: true, ...reading };
      try {
        await readInOrder(paths, options, {
          block: (block) => sink.block(block, profiles.profileOf(block.machineId)),
          ...(sink.faults === undefined ? {} : { faults: (reports) => sink.faults?.(reports) }),
          restart: () => sink.restart(),
        });
        return null;
      } catch (error) {
        if (error instanceof DamagedRecordingError) return error;
        throw error;
      }
    },
  };
}

export interface StoredPeriod {
  readonly machineIds: readonly string[];
  readonly fromMs: number;
  readonly toMs: number;
}

/** Archive read at a time. */
const sliceMs = 86_400_000;

/** A period of the store as a source, with each machine's present profile. */
export function storedSource(store: Store, period: StoredPeriod): TrialSource {
  return {
    async feed(sink) {
      for (const machineId of period.machineIds) {
        const machine = await store.getMachine(machineId);
        if (machine === null) continue;
        const profile = (await store.loadProfile(machineId)) ?? defaultProfile;
        const { fromMs: firstMs, toMs: lastMs } = machine.summary.observed;
        const endMs = Math.min(period.toMs, lastMs + 1);
        for (let fromMs = Math.max(period.fromMs, firstMs); fromMs < endMs; fromMs += sliceMs) {
          const toMs = Math.min(endMs, fromMs + sliceMs);
          const blocks = await store.readSamples({ machineId, fromMs, toMs, channels: analysedChannels });
          for (const block of blocks) sink.block(block, profile);
        }
      }
      return null;
    },
  };
}
