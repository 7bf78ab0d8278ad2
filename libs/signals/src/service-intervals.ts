/** Work that comes due by engine hours or by the calendar, whichever is first. */

import { z } from 'zod';

const practice = 'common practice; the manual of the machine comes first';

/** Names of items: lower case, digits and hyphens. */
export const serviceItemPattern = /^[a-z][a-z0-9-]{0,39}$/;

export const serviceIntervalSchema = z
  .strictObject({
    item: z.string().regex(serviceItemPattern, 'expected lower-case letters, digits and hyphens'),
    name: z.string().min(1).max(60),
    /** Engine hours between; null when hours do not matter. */
    hours: z.number().min(1).max(100_000).nullable(),
    /** Calendar months between; null when time does not matter. */
    months: z.number().min(1).max(240).nullable(),
    source: z.string().max(200).default('set by the fleet'),
  })
  .refine(({ hours, months }) => hours !== null || months !== null, {
    message: 'an interval needs hours, months or both',
    path: ['hours'],
  });

export type ServiceInterval = z.output<typeof serviceIntervalSchema>;

/** What every machine is looked after by unless its profile says otherwise. */
export const usualServiceIntervals: readonly ServiceInterval[] = [
  { item: 'engine-oil', name: 'Engine oil and filter', hours: 500, months: 12, source: `250-500 h, ${practice}` },
  { item: 'fuel-filter', name: 'Fuel filters', hours: 500, months: 12, source: `250-500 h, ${practice}` },
  {
    item: 'air-filter',
    name: 'Air filter, primary',
    hours: 1000,
    months: 12,
    source: `by its indicator, or 500-1000 h and one year, ${practice}`,
  },
  { item: 'crankcase-filter', name: 'Crankcase filter', hours: 1000, months: 24, source: 'engineering judgement' },
  { item: 'def-filter', name: 'DEF filter', hours: 4500, months: 36, source: `4500 h or 2-3 years, from memory` },
  { item: 'def-strainer', name: 'Strainer in the DEF neck', hours: null, months: 6, source: 'engineering judgement' },
  {
    item: 'particulate-filter',
    name: 'Cleaning of the particulate filter',
    hours: 4500,
    months: null,
    source: 'ash after 3000-6000 h, from memory',
  },
];
