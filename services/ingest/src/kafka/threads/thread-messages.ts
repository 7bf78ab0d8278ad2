/** What the thread of the consumer and a thread that analyses say to each other. */

import type { ThresholdSet } from '@warmbrick/analysis';
import type { TopicPartition } from '@warmbrick/kafka';
import { OperatingError } from '@warmbrick/runtime';
import type { MachineChange, RejectedMessage } from '@warmbrick/store';
import type { BatchBytes } from './batch-bytes.js';

/** What a thread is given at its start. */
export interface ThreadOptions {
  readonly thresholds: ThresholdSet;
  readonly most: number;
  readonly faultsTopic: string;
  readonly futureMs: number;
}

/** A rejected message without its bytes, which the asker has. */
export type BareReject = Omit<RejectedMessage, 'payload' | 'key'>;

/** What batches change, as far as one thread knows. */
export interface ThreadAnalysis {
  readonly changes: readonly MachineChange[];
  readonly rejects: readonly BareReject[];
  readonly samples: number;
  readonly machines: number;
}

export type ToThread =
  | {
      readonly type: 'analyse';
      readonly round: number;
      readonly batches: readonly BatchBytes[];
      readonly nowMs: number;
    }
  | { readonly type: 'settle'; readonly round: number; readonly isCommitted: boolean }
  | { readonly type: 'keep-only'; readonly partitions: readonly TopicPartition[] }
  | { readonly type: 'answer'; readonly call: number; readonly outcome: Outcome<unknown> };

export type FromThread =
  | { readonly type: 'analysed'; readonly round: number; readonly outcome: Outcome<ThreadAnalysis> }
  | { readonly type: 'call'; readonly call: number; readonly method: string; readonly args: unknown[] }
  | {
      readonly type: 'log';
      readonly level: 'info' | 'warn' | 'error';
      readonly fields: object;
      readonly message: string;
    };

export type Outcome<T> = { readonly value: T } | { readonly failure: Failure };

interface Failure {
  readonly message: string;
  /** Of an operating error; any other error is a bug and travels as its stack. */
  readonly operating: {
    readonly code: string;
    readonly isRetriable: boolean;
    readonly where: string | undefined;
    readonly remedy: string | undefined;
  } | null;
  readonly stack: string | undefined;
}

/** The outcome of a job, in a form that can be sent. Errors: none. */
export async function outcomeOf<T>(job: () => Promise<T>): Promise<Outcome<T>> {
  try {
    return { value: await job() };
  } catch (error) {
    return { failure: failureOf(error) };
  }
}

/** The value of an outcome. Errors: the one that the job threw. */
export function resultOf<T>(outcome: Outcome<T>): T {
  if ('value' in outcome) return outcome.value;
  const { message, operating, stack } = outcome.failure;
  if (operating === null) throw Object.assign(new Error(message), stack === undefined ? {} : { stack });
  const { code, isRetriable, where, remedy } = operating;
  throw new OperatingError(message, {
    code,
    isRetriable,
    ...(where === undefined ? {} : { where }),
    ...(remedy === undefined ? {} : { remedy }),
  });
}

function failureOf(error: unknown): Failure {
  const { message, stack } = error instanceof Error ? error : new Error(String(error));
  if (!(error instanceof OperatingError)) return { message, operating: null, stack };
  const { code, isRetriable, where, remedy } = error;
  return { message, operating: { code, isRetriable, where, remedy }, stack };
}
