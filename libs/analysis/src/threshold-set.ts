/** Threshold sets: every number that decides whether something is a finding, versioned as a whole. */

import { type MachineProfile, setting } from '@warmbrick/signals';
import { z } from 'zod';
import { furtherThresholds } from './further-thresholds.js';

const practice = 'common practice';
const judgement = 'engineering judgement';

const thresholdValuesSchema = z.strictObject({
  maxHoldS: setting(60, { unit: 's', min: 1, max: 3600, source: 'design decision: a sample holds at most a minute' }),
  idleLimitS: setting(3600, { unit: 's', min: 60, max: 86_400, source: `${practice}: not over one hour at a stretch` }),
  idleBlipS: setting(30, { unit: 's', min: 0, max: 600, source: judgement }),
  gapBridgeS: setting(600, { unit: 's', min: 0, max: 7200, source: judgement }),
  coldLimitS: setting(3600, {
    unit: 's',
    min: 60,
    max: 86_400,
    source: `${practice}: low load counts as cold running too`,
  }),
  coldBlipS: setting(120, { unit: 's', min: 0, max: 3600, source: judgement }),
  coldDeadbandC: setting(10, { unit: 'K', min: 0, max: 100, source: judgement }),
  cooldownWantedS: setting(300, {
    unit: 's',
    min: 10,
    max: 3600,
    source: `${practice}: about five minutes at base idle`,
  }),
  cooldownSevereS: setting(60, { unit: 's', min: 0, max: 3600, source: 'domain notes, section 6' }),
  hotMetalC: setting(200, { unit: 'degC', min: 50, max: 600, source: 'domain notes, section 6' }),
  hotMetalSevereC: setting(350, { unit: 'degC', min: 100, max: 900, source: 'domain notes, section 6' }),
  turbineTauS: setting(75, { unit: 's', min: 5, max: 600, source: 'turbine metal 60-90 s, from memory' }),
  silentStopS: setting(1800, { unit: 's', min: 120, max: 86_400, source: judgement }),
  coldStartCoolantC: setting(50, { unit: 'degC', min: -40, max: 100, source: judgement }),
  earlyLoadPct: setting(50, { unit: '%', min: 10, max: 100, source: judgement }),
  earlyLoadHoldS: setting(10, { unit: 's', min: 0, max: 600, source: judgement }),
  warmupBaseS: setting(180, {
    unit: 's',
    min: 0,
    max: 3600,
    source: `${practice}: a few minutes, longer the colder it is`,
  }),
  warmupPerKelvinS: setting(6, { unit: 's/K', min: 0, max: 120, source: judgement }),
  warmupMaxS: setting(900, { unit: 's', min: 0, max: 7200, source: judgement }),
  dataGapS: setting(300, { unit: 's', min: 60, max: 86_400, source: judgement }),
  clockJumpS: setting(86_400, { unit: 's', min: 60, max: 31_536_000, source: judgement }),
  ...furtherThresholds,
});

export const thresholdSetSchema = z.strictObject({
  /** Version that findings name. */
  version: z.string().min(1).max(60).default('built-in-1'),
  values: thresholdValuesSchema.prefault({}),
});

export type ThresholdValues = z.output<typeof thresholdValuesSchema>;
export type ThresholdSet = z.output<typeof thresholdSetSchema>;

export const thresholdNames = Object.keys(thresholdValuesSchema.shape) as (keyof ThresholdValues)[];

/** The set in force until somebody promotes another. */
export const builtInThresholds: ThresholdSet = thresholdSetSchema.parse({});

/**
 * The thresholds that hold for one machine: the set with the profile's own limits on top.
 *
 * Errors: zod's, naming a limit that no threshold has or that is out of bounds.
 */
export function thresholdsFor(profile: MachineProfile, set: ThresholdSet): ThresholdValues {
  return thresholdValuesSchema.parse({ ...set.values, ...profile.limits });
}
