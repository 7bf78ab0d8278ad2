/** Cuts one machine's archive of some time out of the store, piece by piece. */

import { OperatingError } from '@warmbrick/runtime';
import type { FaultReport, MachineProfile, SampleBlock } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';

export interface Cut {
  readonly store: Store;
  readonly machineId: string;
  readonly fromMs: number;
  readonly toMs: number;
}

export interface CutPiece {
  readonly block: SampleBlock | null;
  readonly faults: readonly FaultReport[];
  /** With the first piece only. */
  readonly profile: MachineProfile | null;
}

/** Archive read at a time. */
const sliceMs = 86_400_000;
const pageItems = 1000;

/**
 * Gives a machine's samples and fault reports of fromMs <= time < toMs, the samples in order.
 *
 * Errors: OperatingError `machine-absent`; those of the store.
 */
export async function* cutMachine({ store, machineId, fromMs, toMs }: Cut): AsyncGenerator<CutPiece> {
  const machine = await store.getMachine(machineId);
  if (machine === null) {
    throw new OperatingError('Nothing is stored of this machine.', {
      code: 'machine-absent',
      where: machineId,
      remedy: 'Name a machine of the fleet page.',
    });
  }
  yield { block: null, faults: await faultsOf({ store, machineId, fromMs, toMs }), profile: machine.profile };
  const { fromMs: firstMs, toMs: lastMs } = machine.summary.observed;
  const endMs = Math.min(toMs, lastMs + 1);
  for (let atMs = Math.max(fromMs, firstMs); atMs < endMs; atMs += sliceMs) {
    const range = { machineId, fromMs: atMs, toMs: Math.min(endMs, atMs + sliceMs) };
    for (const block of await store.readSamples(range)) yield { block, faults: [], profile: null };
  }
}

async function faultsOf({ store, machineId, fromMs, toMs }: Cut): Promise<FaultReport[]> {
  const reports: FaultReport[] = [];
  for (let cursor: string | null | undefined; cursor !== null; ) {
    const page: Awaited<ReturnType<Store['listFaults']>> = await store.listFaults({
      machineId,
      fromMs,
      toMs,
      limit: pageItems,
      cursor,
      first: 'oldest',
    });
    reports.push(...page.items);
    cursor = page.nextCursor;
  }
  return reports;
}
