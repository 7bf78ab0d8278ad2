/** The machines that somebody sees, up to a bound. */

import type { Store, StoredMachine } from '@warmbrick/store';

/** Machines that a comparison looks at, at most. Source: engineering judgement: their week of rows is read at once. */
const mostMachines = 200;
/** Pages that are looked through for them. */
const pageLimit = 200;
const mostPages = 25;

/** Machines that pass, by name, and whether there were more than the bound. */
export async function listMostMachines(
  store: Store,
  passes: (machine: StoredMachine) => boolean = () => true,
): Promise<{ machines: StoredMachine[]; hasMore: boolean }> {
  const machines: StoredMachine[] = [];
  let cursor: string | undefined;
  for (let page = 0; page < mostPages; page++) {
    const { items, nextCursor } = await store.listMachines({ limit: pageLimit, sort: 'name', cursor });
    machines.push(...items.filter(passes));
    if (machines.length > mostMachines) return { machines: machines.slice(0, mostMachines), hasMore: true };
    if (nextCursor === null) return { machines, hasMore: false };
    cursor = nextCursor;
  }
  return { machines, hasMore: true };
}
