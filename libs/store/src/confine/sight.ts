/** What somebody sees who may see some fleets only. */

import { OperatingError } from '@warmbrick/runtime';
import type { Page, Store } from '../store.js';

/** How the questions of one caller are cut. */
export interface Sight {
  /** The store behind the second wall. */
  readonly inner: Store;
  readonly fleets: readonly string[];
  /** Those of the machines that belong to the fleets. */
  mine(machineIds: readonly string[]): Promise<Set<string>>;
  isMine(machineId: string): Promise<boolean>;
}

/** The page of somebody who sees nothing. */
export const emptyPage: Page<never> = { items: [], nextCursor: null };

/** The fleets asked for as far as they are seen; all that are seen when none was named. */
export function narrowed(asked: readonly string[] | undefined, fleets: readonly string[]): readonly string[] {
  return asked === undefined ? fleets : asked.filter((fleet) => fleets.includes(fleet));
}

/** Errors: OperatingError `whole-installation`, always. */
export async function refuseWhole(method: string): Promise<never> {
  throw new OperatingError(`"${method}" concerns the whole installation.`, {
    code: 'whole-installation',
    remedy: 'Use a key that is for all fleets.',
  });
}

/** The error of a machine that is not there for this caller. */
export function absentMachine(machineId: string): OperatingError {
  return new OperatingError(`No machine "${machineId}" is known.`, {
    code: 'machine-absent',
    remedy: 'Name a machine that there is.',
  });
}
