/** What is left of the life of a batch of DEF in storage. */

import { defLifeDays, defTestBeforeUseC } from '@warmbrick/aftertreatment';

export interface DefBatchStorage {
  /** Epoch ms of the day it was bought; the guide counts from making, which is earlier. */
  readonly purchasedMs: number;
  /** Mean temperature of the store, degC. */
  readonly storageTempC: number;
}

export interface DefBatchLife {
  /** 1 is the end; more is past it. */
  readonly usedRatio: number;
  readonly goodUntilMs: number;
  readonly state: 'good' | 'use-soon' | 'past';
  /** So warm that the guide says to test before use. */
  readonly isTooWarm: boolean;
}

const dayMs = 86_400_000;
/** Share of the life after which a batch should be used next. Source: engineering judgement. */
const useSoonRatio = 0.8;

/**
 * Life of a batch at its storage temperature.
 *
 * Source: guide of ISO 22241-3 as in libs/aftertreatment; the age before the purchase is not known and not counted.
 */
export function defBatchLife({ purchasedMs, storageTempC }: DefBatchStorage, nowMs: number): DefBatchLife {
  const lifeMs = defLifeDays(storageTempC) * dayMs;
  const usedRatio = Math.max(0, nowMs - purchasedMs) / lifeMs;
  return {
    usedRatio: Math.round(usedRatio * 1000) / 1000,
    goodUntilMs: Math.round(purchasedMs + lifeMs),
    state: usedRatio >= 1 ? 'past' : usedRatio >= useSoonRatio ? 'use-soon' : 'good',
    isTooWarm: storageTempC > defTestBeforeUseC,
  };
}
