/** Times by which the fault log decides. */

import { setting } from '@warmbrick/signals';
import { z } from 'zod';

export const faultLogSettingsSchema = z.strictObject({
  /** A code that is absent from lists for less than this has not cleared. */
  debounceS: setting(10, {
    unit: 's',
    min: 0,
    max: 600,
    source: 'engineering judgement: lists come every second while a code is active (SAE J1939-73)',
  }),
  /** Two tellings of the same code by a source that never says when it cleared are one episode within this. */
  occurredJoinS: setting(3600, { unit: 's', min: 0, max: 86_400, source: 'engineering judgement' }),
});
export type FaultLogSettings = z.output<typeof faultLogSettingsSchema>;

export const builtInFaultLogSettings: FaultLogSettings = faultLogSettingsSchema.parse({});
