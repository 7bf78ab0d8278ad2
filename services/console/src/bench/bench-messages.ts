/** What page and worker of the bench say to each other. */

import type { ThresholdSet } from '@warmbrick/analysis';
import type { ComparisonDocument } from '@warmbrick/contracts';
import type { MachineProfile } from '@warmbrick/signals';

export type ToWorker =
  | {
      readonly type: 'load';
      readonly machineId: string;
      readonly profile: MachineProfile;
      /** Packed columns, a day each, in order of time. */
      readonly days: readonly Uint8Array<ArrayBuffer>[];
    }
  | { readonly type: 'try'; readonly number: number; readonly before: ThresholdSet; readonly after: ThresholdSet };

export type FromWorker =
  | { readonly type: 'loaded'; readonly samples: number; readonly fromMs: number; readonly toMs: number }
  /** What changes among the findings; the score is that of before until the message after it, unless `isWhole`. */
  | {
      readonly type: 'tried';
      readonly number: number;
      readonly document: ComparisonDocument;
      readonly isWhole: boolean;
      readonly elapsedMs: number;
      /** Parts of the analysis that had to run. */
      readonly ran: readonly string[];
    }
  | { readonly type: 'failed'; readonly message: string };
