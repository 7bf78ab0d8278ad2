/** What the trace of DEF batches needs: findings of fills and losses, and which batch was in use where. */

import type { BatchInUse, Finding, FindingKind } from '@warmbrick/analysis';
import type { DefBatch, Store, StoredMachine } from '@warmbrick/store';

const kinds: readonly FindingKind[] = ['def-fill', 'nox-conversion', 'def-quality'];
/** Findings looked at for each machine: the newest. */
const mostFindings = 500;
/** Machines that are asked for at the same time. */
const atOnce = 8;

/** A batch is in use from the day it was bought until the next; one that names no site is so at all of them. */
export function batchesInUse(batches: readonly DefBatch[], sites: readonly string[]): BatchInUse[] {
  return batches.flatMap(({ name, site, purchasedMs: fromMs }) =>
    (site === null ? sites : [site]).map((one) => ({ site: one, fromMs, batch: name })),
  );
}

/** Fills and losses of the machines since the first batch was bought. */
export async function batchFindings(
  store: Store,
  machines: readonly StoredMachine[],
  batches: readonly DefBatch[],
): Promise<Finding[]> {
  const fromMs = Math.min(...batches.map(({ purchasedMs }) => purchasedMs));
  const findings: Finding[] = [];
  for (let first = 0; first < machines.length; first += atOnce) {
    const some = machines.slice(first, first + atOnce);
    const pages = await Promise.all(
      some.map(({ machineId }) => store.listFindings({ machineId, limit: mostFindings, fromMs, kinds })),
    );
    for (const { items } of pages) findings.push(...items);
  }
  return findings;
}
