/** Settings of a watched folder. */

import { z } from 'zod';

/** Source of all defaults: engineering judgement. */
export const folderSettingsSchema = z.strictObject({
  /** The folder; `inbox`, `working`, `done` and `failed` are made in it. */
  folder: z.string().min(1),
  /** How often the inbox is looked at, ms. */
  lookEveryMs: z.number().int().min(10).max(3_600_000).default(1000),
  /** A file whose size and time did not change for this long is complete, ms. */
  unchangedMs: z.number().int().min(0).max(3_600_000).default(2000),
  /** A process that has shown no sign of life for this long has lost its file to whoever sees it, ms. */
  abandonedMs: z.number().int().min(100).max(86_400_000).default(60_000),
  /** Waits between tries when the pipeline does not take a batch; they double from the first to the longest. */
  firstRetryMs: z.number().int().min(1).default(100),
  longestRetryMs: z.number().int().min(1).default(10_000),
  /** Bytes that the samples of one file may take on the disk while they are worked. */
  mostSpoolBytes: z
    .number()
    .int()
    .min(1024)
    .default(16 * 1024 ** 3),
});

export type FolderSettings = z.output<typeof folderSettingsSchema>;
export type FolderSettingsInput = z.input<typeof folderSettingsSchema>;
