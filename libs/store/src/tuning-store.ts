/** Threshold sets, trials and promotions. */

import type { ThresholdSet } from '@warmbrick/analysis';
import type { SetPromotion } from '@warmbrick/tuning';

export interface NewThresholdSet {
  readonly set: ThresholdSet;
  readonly author: string;
  readonly reason: string;
  readonly trialId: string | null;
  /** Whether somebody else than the author has to approve it before it is promoted. */
  readonly needsApproval: boolean;
}

export interface StoredThresholdSet extends NewThresholdSet {
  readonly createdMs: number;
  readonly approvedBy: string | null;
  readonly approvedMs: number | null;
}

export interface NewTrial {
  readonly trialId: string;
  readonly title: string;
  readonly author: string;
  /** The document of a comparison or a search, as JSON. */
  readonly document: string;
}

export interface StoredTrial extends NewTrial {
  readonly createdMs: number;
}

export interface NewPromotion extends Omit<SetPromotion, 'id'> {
  readonly author: string;
  readonly reason: string;
}

export interface StoredPromotion extends SetPromotion {
  readonly author: string;
  readonly reason: string;
  readonly createdMs: number;
  /** Machines that have been analysed anew for it; 0 where nothing is recomputed. */
  readonly recomputedMachines: number;
}

export interface TuningStore {
  /** Keeps a set for good; false when its version is taken. */
  addThresholdSet(set: NewThresholdSet): Promise<boolean>;
  getThresholdSet(version: string): Promise<StoredThresholdSet | null>;
  /** Newest first, the latest 1000. */
  listThresholdSets(): Promise<StoredThresholdSet[]>;
  /** A second pair of eyes. `own-set`: the author may not approve. */
  approveThresholdSet(version: string, by: string): Promise<'approved' | 'unknown' | 'own-set'>;
  /** Keeps a trial; one with the same id is the same trial and stays. */
  addTrial(trial: NewTrial): Promise<void>;
  getTrial(trialId: string): Promise<StoredTrial | null>;
  /** Newest first, the latest 1000, without their documents. */
  listTrials(): Promise<Omit<StoredTrial, 'document'>[]>;
  /** Adds to the list of promotions. The set has to be there. */
  addPromotion(promotion: NewPromotion): Promise<StoredPromotion>;
  /** All of them, in order of entry. */
  listPromotions(): Promise<StoredPromotion[]>;
  /** Number of the last entry, 0 when there is none: changes with each. */
  lastPromotion(): Promise<number>;
  /** Number of the last promotion that a machine was analysed anew for; 0 for none. */
  recomputedUpTo(machineId: string): Promise<number>;
  markRecomputed(machineId: string, promotionId: number): Promise<void>;
}
