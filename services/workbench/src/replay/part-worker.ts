/** Entry of a worker thread: replays one part a call. */

import { type PartOutcome, type PartTask, replayPart } from './replay-part.js';

/** What the pool calls. */
export function replayInWorker(task: PartTask): Promise<PartOutcome> {
  return replayPart(task);
}
