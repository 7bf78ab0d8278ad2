/** How questions about threshold sets are cut: sets are for all to read, promotions of others are not, trials name machines. */

import type { PromotionScope } from '@warmbrick/tuning';
import type { Store } from '../store.js';
import { refuseWhole, type Sight } from './sight.js';

/** The rules. `whole` is asked: sets belong to no fleet, so they stand behind no wall. */
export function tuningRules(whole: Store, { fleets, isMine }: Sight): Partial<Store> {
  const isOwn = async ({ kind, name }: PromotionScope) =>
    (kind === 'fleet' && fleets.includes(name ?? '')) || (kind === 'machine' && (await isMine(name ?? '')));
  return {
    getThresholdSet: (version) => whole.getThresholdSet(version),
    listThresholdSets: () => whole.listThresholdSets(),
    lastPromotion: () => whole.lastPromotion(),
    async listPromotions() {
      const all = await whole.listPromotions();
      const own = await Promise.all(
        all.map(async ({ scope }) => scope.kind === 'all' || scope.kind === 'class' || isOwn(scope)),
      );
      return all.filter((_, i) => own[i]);
    },
    addThresholdSet: (set) => whole.addThresholdSet(set),
    approveThresholdSet: (version, by) => whole.approveThresholdSet(version, by),
    addTrial: (trial) => whole.addTrial(trial),
    addPromotion: async (promotion) =>
      (await isOwn(promotion.scope)) ? whole.addPromotion(promotion) : refuseWhole('addPromotion'),
  };
}
