/** Analyses a machine anew from its archive, when its stored state was made by another version of the analysis. */

import type { Finding, ResidencyRow, Timeline } from '@warmbrick/analysis';
import type { CursorMove, MachineChange, Store } from '@warmbrick/store';

/** Archive read at a time. Source: engineering judgement. */
const sliceMs = 86_400_000;
/** Stands for the time before every sample. */
const beforeAllMs = -1;

/**
 * Feeds the whole archive of a machine to a timeline that starts from nothing, and commits the result as one change: rows,
 * findings and snapshots of before are void. Archived samples stay as they are.
 *
 * Errors: those of the store; nothing is changed then. With a fence, `fenced` when another writer has taken over.
 */
export async function rebuildMachine(store: Store, timeline: Timeline, fence: CursorMove | null = null): Promise<void> {
  const { machineId } = timeline;
  const observed = (await store.getMachine(machineId))?.summary.observed;
  if (observed === undefined) return;
  const findings = new Map<string, Finding>();
  const rows = new Map<number, ResidencyRow>();
  const keptSnapshots: MachineChange['keptSnapshots'][number][] = [];
  for (let fromMs = observed.fromMs; fromMs <= observed.toMs; fromMs += sliceMs) {
    const range = { machineId, fromMs, toMs: Math.min(fromMs + sliceMs, observed.toMs + 1) };
    for (const block of await store.readSamples(range)) {
      const change = await timeline.accept(block);
      for (const finding of change.findings) findings.set(finding.id, finding);
      for (const row of change.rows) rows.set(row.startedMs, row);
      keptSnapshots.push(...change.keptSnapshots);
    }
  }
  const summary = timeline.summary();
  if (summary === null) return;
  const before = await store.findingIdsSince(machineId, beforeAllMs);
  const change: MachineChange = {
    machineId,
    samples: [],
    findings: [...findings.values()],
    withdrawnFindingIds: before.filter((id) => !findings.has(id)),
    rows: [...rows.values()],
    summary,
    snapshot: timeline.snapshot(),
    keptSnapshots,
    rewoundToMs: beforeAllMs,
  };
  await store.commit([change], fence);
}
