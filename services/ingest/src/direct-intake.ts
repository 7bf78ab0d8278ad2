/** Intake without topics: straight into the pipeline of this process. */

import type { FaultReport } from '@warmbrick/signals';
import type { Ingest } from './ingest-types.js';
import type { Intake } from './intake.js';

/** Stores fault reports; resolves after the commit. Doing it again with the same reports changes nothing. */
export type StoreFaults = (reports: readonly FaultReport[]) => Promise<void>;

/** Makes the intake of a process that analyses what it takes in. Errors: those of `accept` and of `storeFaults`. */
export function directIntake(ingest: Pick<Ingest, 'accept'>, storeFaults: StoreFaults): Intake {
  return {
    settles: 'committed',
    async samples(blocks) {
      if (blocks.length > 0) await ingest.accept(blocks);
    },
    async faults(reports) {
      if (reports.length > 0) await storeFaults(reports);
    },
  };
}
