/** What has built up in a machine, and how it goes on, in words. */

import type { MachineDetail } from '@warmbrick/contracts';
import { formatDuration } from './duration.js';
import { formatNumber, formatQuantity, type UnitSystem } from './unit-system.js';

export type Load = NonNullable<MachineDetail['load']>;

/** Share of a limit below which soot and deposits count as clean. Source: engineering judgement, libs/analysis. */
export const cleanRatio = 0.3;

export interface AmountWords {
  /** "62 %". */
  readonly share: string;
  /** "of the limit", or that it is over. */
  readonly ofLimit: string;
  /** "24.8 g of 40 g". */
  readonly amount: string;
  /** Where the figure comes from and how sure it is. */
  readonly basis: string;
}

export interface LoadWords {
  /** null for a machine without a particulate filter. */
  readonly soot: AmountWords | null;
  readonly deposits: AmountWords;
  /** What would clear it. */
  readonly clearing: string;
  /** When the soot limit comes; null without a filter. */
  readonly limit: string | null;
}

/**
 * The outlook of a machine in words.
 *
 * Missing: a machine without a filter has no words for soot and its limit. An unknown doubt is called so.
 */
export function loadWords(load: Load, units: UnitSystem): LoadWords {
  const hasFilter = load.sootRatio !== null;
  return {
    soot:
      load.sootRatio === null
        ? null
        : {
            ...shareWords(load.sootRatio, load.sootG, load.sootLimitG),
            basis: `${sourceWords(load)} ${doubtWords(load.sootDoubtRatio)}`,
          },
    deposits: {
      ...shareWords(load.depositRatio, load.depositG, load.depositLimitG),
      basis: load.isDepositMeasured
        ? 'Modelled, and held against the NOx conversion, which deposits lower: still a rough figure.'
        : 'Modelled only: nothing on the machine measures deposits, so take it as a rough figure.',
    },
    clearing: clearingWords(load, units, hasFilter),
    limit: hasFilter ? limitWords(load) : null,
  };
}

function shareWords(ratio: number, amountG: number | null, limitG: number | null): Omit<AmountWords, 'basis'> {
  const amount = amountG === null || limitG === null ? '' : `${grams(amountG)} of ${grams(limitG)}`;
  return {
    share: `${Math.round(ratio * 100)}\u00a0%`,
    ofLimit: ratio > 1 ? 'of the limit: over it' : 'of the limit',
    amount,
  };
}

function grams(massG: number): string {
  return `${formatNumber(massG)}\u00a0g`;
}

function sourceWords({ sootBasis, isMeasured, no2Basis }: Load): string {
  switch (sootBasis ?? (isMeasured ? 'signal' : 'model')) {
    case 'signal':
      return 'Measured: the machine’s own soot signal, carried on by a model.';
    case 'signal-and-pressure':
      return 'Measured: the machine’s own soot signal and the pressure drop over the filter, carried on by a model.';
    case 'pressure':
      return 'Reckoned from the pressure drop over the filter and a model: the machine has sent no soot signal of late.';
    case 'model':
      return `${isMeasured ? 'Modelled only: the soot signal is too old to count.' : 'Modelled only: the machine has sent no soot signal.'}${supplyWords(no2Basis)}`;
  }
}

/** The NO2 that burns soot off, where the load rests on it. */
function supplyWords(no2Basis: Load['no2Basis']): string {
  if (no2Basis === 'sensed') return ' What burns off is reckoned from its NOx sensor and exhaust flow.';
  return no2Basis === 'estimated' ? ' What burns off is estimated from load and fuel.' : '';
}

function doubtWords(doubtRatio: number | null): string {
  if (doubtRatio === null) return 'How sure it is, is not known.';
  return `Give or take ${Math.round(doubtRatio * 100)}\u00a0% of the limit.`;
}

function clearingWords({ minutesUntilClean, workTempC }: Load, units: UnitSystem, hasFilter: boolean): string {
  if (minutesUntilClean === null) return 'Work alone will not clear it: have it looked at.';
  const under = `under ${Math.round(cleanRatio * 100)}\u00a0% of ${hasFilter ? 'their limits' : 'the limit'}`;
  if (minutesUntilClean === 0) return `Clean as it is: ${hasFilter ? 'both are' : 'the deposits are'} ${under}.`;
  const work = `About ${formatDuration(minutesUntilClean * 60)} of work above ${formatQuantity(workTempC, 'degC', units)}`;
  return `${work} until clean, which is ${under}.`;
}

function limitWords({ wayToLimit, hoursToLimit }: Load): string | null {
  if (wayToLimit === 'no-filter') return null;
  if (wayToLimit === 'reached') return 'The soot limit is reached now.';
  if (wayToLimit === 'unknown' || (wayToLimit === 'ahead' && hoursToLimit === null)) {
    return 'How soon the soot limit comes cannot be told yet.';
  }
  if (wayToLimit === 'never') {
    return 'At the duty of late soot burns off as fast as it comes: the limit is never reached.';
  }
  if (wayToLimit === 'far' || hoursToLimit === null) {
    return 'At the duty of late the soot limit is over 1000 running hours away.';
  }
  if (hoursToLimit < 1) return 'At the duty of late the soot limit is less than a running hour away.';
  const hours = Math.round(hoursToLimit);
  return `At the duty of late the soot limit is about ${hours} running hour${hours === 1 ? '' : 's'} away.`;
}
