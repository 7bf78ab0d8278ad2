/** What a membership works with. */

import type { Consumer } from 'kafkajs';
import type { ConsumerCounts, ConsumerLimits, ConsumerOptions } from './consumer-types.js';
import type { KafkaLogger } from './create-kafka.js';

export interface MembershipContext {
  readonly options: ConsumerOptions;
  readonly limits: ConsumerLimits;
  /** Counted up in place. */
  readonly counts: ConsumerCounts;
  readonly logger: KafkaLogger;
  readonly consumer: Pick<Consumer, 'pause' | 'resume' | 'seek'>;
  readonly now: () => number;
  /** Something was handled, or a handler is alive. */
  readonly onProgress: () => void;
  readonly onFatal: (error: Error) => void;
}
