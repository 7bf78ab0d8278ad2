/** How questions about scores and archived days are cut. */

import type { Store } from '../store.js';
import { emptyPage, type Sight } from './sight.js';

/** The rules. */
export function scoreRules({ inner, isMine }: Sight): Partial<Store> {
  return {
    listScoreDays: async (range) => ((await isMine(range.machineId)) ? inner.listScoreDays(range) : []),
    listArchivedDays: async (page) => ((await isMine(page.machineId)) ? inner.listArchivedDays(page) : emptyPage),
  };
}
