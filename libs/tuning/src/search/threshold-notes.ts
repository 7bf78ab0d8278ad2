/** What the schema of threshold sets says of each threshold: default, bounds, unit, source. */

import { builtInThresholds, thresholdNames, thresholdSetSchema } from '@warmbrick/analysis';
import type { ThresholdName } from '../traced-thresholds.js';

export interface ThresholdNote {
  readonly name: ThresholdName;
  readonly usual: number;
  readonly min: number;
  readonly max: number;
  readonly unit: string;
  readonly source: string;
}

interface NumberSchema {
  meta(): { readonly unit?: string; readonly source?: string } | undefined;
  unwrap(): { readonly minValue: number | null; readonly maxValue: number | null };
}

const shape = thresholdSetSchema.shape.values.unwrap().shape as unknown as Readonly<
  Record<ThresholdName, NumberSchema>
>;

/** One note a threshold, in the order of the schema. */
export const thresholdNotes: readonly ThresholdNote[] = thresholdNames.map((name) => {
  const schema = shape[name];
  const { minValue, maxValue } = schema.unwrap();
  const { unit = '1', source = '' } = schema.meta() ?? {};
  return { name, usual: builtInThresholds.values[name], min: minValue ?? 0, max: maxValue ?? 0, unit, source };
});
