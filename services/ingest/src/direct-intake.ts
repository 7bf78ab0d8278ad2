/** Intake without topics: straight into the pipeline of this process. */

import type { Ingest } from './ingest-types.js';
import type { Intake } from './intake.js';

/** Makes the intake of a process that analyses what it takes in. Errors: those of `accept`. */
export function directIntake(ingest: Pick<Ingest, 'accept'>): Intake {
  return {
    settles: 'committed',
    async samples(blocks) {
      if (blocks.length > 0) await ingest.accept(blocks);
    },
    async faults(reports) {
      if (reports.length > 0) await ingest.accept([], { reports });
    },
  };
}
