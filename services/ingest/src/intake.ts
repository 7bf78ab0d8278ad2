/** The one door that every way in leads to: the pipeline itself, or topics that it reads. */

import type { FaultReport, SampleBlock } from '@warmbrick/signals';

/** Where something came in. */
export interface IntakeOrigin {
  readonly way: 'http' | 'mqtt' | 'folder' | 'standard-feed';
  /** Such as the name of a file, of a client or of a provider; for logs. */
  readonly name: string;
}

export interface Intake {
  /** What a resolved call means: analysed and committed, or acknowledged by the brokers. */
  readonly settles: 'committed' | 'produced';
  /**
   * Takes samples of any machines and times, quantised. Resolves only when they cannot be lost any more.
   *
   * Errors: OperatingError; nothing may be assumed about what was kept, and doing it again does no harm.
   */
  samples(blocks: readonly SampleBlock[], origin: IntakeOrigin): Promise<void>;
  /** The same for fault reports. */
  faults(reports: readonly FaultReport[], origin: IntakeOrigin): Promise<void>;
}
