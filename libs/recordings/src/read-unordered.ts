/** Reads recordings as they come: in the order of the files and of their rows. */

import { OperatingError } from '@warmbrick/runtime';
import { openSource } from './byte-source.js';
import { readRecording } from './read-recording.js';
import { createReadState, type Outlet, type ReadState } from './read-state.js';
import type { BlockSink, ReadOptions, ReadReport } from './recording.js';
import { DamagedRecordingError, noRecordings, noUsableRow } from './recording-errors.js';
import { createShelves, type OrderRule } from './sample-shelves.js';

/** A recording to read: where its bytes lie, and how it was named. */
export interface NamedPath {
  readonly path: string;
  readonly origin: string;
}

/**
 * Reads recordings in the order given, without sorting; `sink.restart` is never called.
 *
 * Shapes: every block rises strictly in time; from block to block a machine's time may go back or repeat.
 * Errors: those of the files; `DamagedRecordingError` after everything readable was delivered.
 */
export async function readUnordered(
  paths: readonly string[],
  options: ReadOptions,
  sink: BlockSink,
): Promise<ReadReport> {
  if (paths.length === 0) throw noRecordings();
  const state = createReadState(options);
  const outlet = countingOutlet(state, sink);
  const damage = await readAll(
    paths.map((path) => ({ path, origin: path })),
    state,
    { outlet, rule: 'cut' },
  );
  return concludeReading(paths, state, { wasSorted: true, damage });
}

/** Hands everything to the sink and counts it. */
export function countingOutlet(state: ReadState, sink: BlockSink): Outlet {
  return {
    block(block) {
      state.samples += block.timeMs.length;
      sink.block(block);
    },
    faults(reports) {
      state.faultReports += reports.length;
      sink.faults?.(reports);
    },
  };
}

/** Reads all recordings through one set of shelves; a damaged one ends early and the next follows. */
export async function readAll(
  files: readonly NamedPath[],
  state: ReadState,
  to: { readonly outlet: Outlet; readonly rule: OrderRule },
): Promise<OperatingError | null> {
  const shelves = createShelves(state, to.outlet, to.rule);
  let damage: OperatingError | null = null;
  for (const { path, origin } of files) {
    try {
      const source = await openSource(path, origin);
      try {
        await readRecording(source, state, { shelves, outlet: to.outlet });
      } finally {
        await source.close();
      }
    } catch (error) {
      if (!(error instanceof OperatingError) || error.code !== 'recording-damaged') throw error;
      damage ??= error;
    }
  }
  shelves.flush();
  return damage;
}

/**
 * Turns what was accumulated into the report.
 *
 * Errors: `DamagedRecordingError`, which carries the report; `recording-no-usable-row`.
 */
export function concludeReading(
  paths: readonly string[],
  state: ReadState,
  end: { readonly wasSorted: boolean; readonly damage: OperatingError | null },
): ReadReport {
  const report: ReadReport = {
    formats: [...state.formats],
    samples: state.samples,
    duplicates: state.duplicates,
    conflicts: state.conflicts,
    frames: state.frames,
    incompleteTransfers: state.incompleteTransfers,
    wasSorted: end.wasSorted,
    warnings: [...state.warnings],
    rejects: state.rejects,
    unusable: state.unusable,
  };
  if (end.damage !== null) throw new DamagedRecordingError(end.damage, report);
  if (state.samples === 0 && state.faultReports === 0) throw noUsableRow(paths, state.rejects);
  return report;
}
