/** How the scores of machines went day by day, and of which days samples are archived. */

import type { Page } from './store.js';

/** A machine's score as it stood with its last sample of a UTC day. */
export interface ScoreDay {
  /** Start of the day. */
  readonly dayMs: number;
  readonly atMs: number;
  readonly value: number;
  readonly confidence: number;
  readonly parts: Readonly<Record<string, number>>;
  readonly thresholdSet: string;
}

/** A UTC day of which samples are archived. */
export interface ArchivedDay {
  readonly dayMs: number;
  readonly fromMs: number;
  /** Time of the last sample. */
  readonly toMs: number;
  readonly samples: number;
}

export interface ArchivePage {
  readonly machineId: string;
  readonly limit: number;
  readonly cursor?: string | undefined;
}

export interface ScoreStore {
  /** Scores of the days that start in [fromMs, toMs), in order; a day without a score is left out. */
  listScoreDays(range: {
    readonly machineId: string;
    readonly fromMs: number;
    readonly toMs: number;
  }): Promise<ScoreDay[]>;
  /** Archived days of a machine, newest first. */
  listArchivedDays(page: ArchivePage): Promise<Page<ArchivedDay>>;
}
