/** An intake that keeps what it takes, and fails when it is told to. */

import type { Intake, IntakeOrigin } from '@warmbrick/ingest';
import { OperatingError } from '@warmbrick/runtime';
import { blockChannels, type FaultReport, type SampleBlock } from '@warmbrick/signals';

export interface FakeIntake extends Intake {
  /** By machine, time and channel: what a store that merges would hold. */
  readonly values: Map<string, number>;
  /** Reports by their content: what a store that knows a report again would hold. */
  readonly reports: Map<string, FaultReport>;
  readonly origins: IntakeOrigin[];
  calls: number;
  /** Called before anything is taken; may throw or wait. */
  before: () => void | Promise<void>;
  /** Called after everything is taken; may throw or wait. */
  after: () => void | Promise<void>;
}

export function fakeIntake(settles: Intake['settles'] = 'committed'): FakeIntake {
  const intake: FakeIntake = {
    settles,
    values: new Map(),
    reports: new Map(),
    origins: [],
    calls: 0,
    before: () => {},
    after: () => {},
    async samples(blocks, origin) {
      intake.calls++;
      await intake.before();
      for (const block of blocks) keepBlock(intake.values, block);
      intake.origins.push(origin);
      await intake.after();
    },
    async faults(reports, origin) {
      intake.calls++;
      await intake.before();
      for (const report of reports) intake.reports.set(JSON.stringify(report), report);
      intake.origins.push(origin);
      await intake.after();
    },
  };
  return intake;
}

export const away = () => new OperatingError('the store is away', { code: 'store-unavailable', isRetriable: true });

/** Every number of blocks, by machine, time and channel. */
export function valuesOf(blocks: readonly SampleBlock[]): Map<string, number> {
  const values = new Map<string, number>();
  for (const block of blocks) keepBlock(values, block);
  return values;
}

function keepBlock(values: Map<string, number>, block: SampleBlock): void {
  for (const name of blockChannels(block)) {
    block.timeMs.forEach((timeMs, i) => {
      const value = block.channels[name]?.[i] as number;
      if (!Number.isNaN(value)) values.set(`${block.machineId} ${timeMs} ${name}`, value);
    });
  }
}
