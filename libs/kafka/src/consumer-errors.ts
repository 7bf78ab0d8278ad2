/** What the consumer makes of errors, and errors that it makes. */

import { OperatingError } from '@warmbrick/runtime';
import type { Lane } from './lane.js';

/** Whether it may help to try again. */
export function isRetriable(error: unknown): boolean {
  return error instanceof OperatingError && error.isRetriable;
}

/** The error of a handler that goes on although its partition was taken away. */
export function takenAwayError(): OperatingError {
  return new OperatingError('The partition was taken away.', { code: 'fenced' });
}

/** The error of a log that stays too short. */
export function logTooShortError(lane: Lane, endOffset: number): OperatingError {
  return new OperatingError(`The log ends at ${endOffset}, before the ${lane.position} where the store stands.`, {
    code: 'kafka-log-too-short',
    where: `${lane.topic}, partition ${lane.partition}`,
    remedy: 'If the topic was made anew, set its positions in the store back to 0, or use a new topic name.',
  });
}
