/** A configurable number: its default, its bounds, its unit and where the default comes from, in one place. */

import { z } from 'zod';

export interface SettingNote {
  readonly unit: string;
  readonly source: string;
  readonly min: number;
  readonly max: number;
}

/**
 * A bounded number with a default.
 *
 * Errors: zod's, naming the bound that was crossed.
 */
export function setting(defaultValue: number, note: SettingNote) {
  const { min, max } = note;
  return z.number().min(min).max(max).default(defaultValue).meta({ unit: note.unit, source: note.source });
}
