/** Goes through the machines that are due and inquires into their derates; any number of processes may do it side by side. */

import { OperatingError } from '@warmbrick/runtime';
import type { DueInquiry, Store } from '@warmbrick/store';
import type { IngestLogger } from '../ingest-types.js';
import { type InquiryStore, inquireMachine } from './inquire-machine.js';

export interface DerateInquirerOptions {
  readonly store: InquiryStore & Pick<Store, 'takeDueInquiries' | 'settleDueInquiry'>;
  readonly logger: IngestLogger;
  /** The wall clock; an answer says when it was given. */
  readonly now?: () => number;
  /** Between looks when nothing was due; default a second. */
  readonly everyMs?: number;
  /** Called for each machine about which there are new answers. */
  readonly onAnswers?: (machineId: string) => void;
}

export interface DerateInquirer {
  /** Resolves when nothing is due any more; for tests and for whoever loads a lot at once. */
  settled(): Promise<void>;
  /** Resolves when what is in work is done. */
  stop(): Promise<void>;
}

/** Machines taken at once. Source: engineering judgement. */
const machinesPerTurn = 16;
/** One machine takes well under a second; a process that dies gives its machines up after this. */
const leaseMs = 60_000;
const usualEveryMs = 1000;
/** Wait after the store failed. Source: engineering judgement. */
const afterFailureMs = 5000;

/** Starts the inquirer. */
export function startDerateInquirer(options: DerateInquirerOptions): DerateInquirer {
  const { store, logger, everyMs = usualEveryMs } = options;
  let isStopped = false;
  let timer: NodeJS.Timeout | undefined;
  let turn: Promise<boolean> = Promise.resolve(false);

  const work = async (): Promise<boolean> => {
    const due = await store.takeDueInquiries(machinesPerTurn, leaseMs);
    for (const one of due) if (!isStopped) await inquireOne(options, one);
    return due.length > 0;
  };
  const schedule = (waitMs: number) => {
    if (isStopped) return;
    timer = setTimeout(() => {
      turn = turn.then(work, work);
      turn.then(
        (hasWorked) => schedule(hasWorked ? 0 : everyMs),
        (error: unknown) => {
          logger.warn({ err: error }, 'derates could not be inquired into; trying again');
          schedule(afterFailureMs);
        },
      );
    }, waitMs);
  };
  schedule(everyMs);
  return {
    settled: async () => {
      for (;;) {
        turn = turn.then(work, work);
        if (!(await turn)) return;
      }
    },
    stop: async () => {
      isStopped = true;
      clearTimeout(timer);
      await turn.catch(() => {});
    },
  };
}

/** A machine whose case cannot be worked out stays due, and does not hold up the others. */
async function inquireOne(
  { store, logger, now = Date.now, onAnswers }: DerateInquirerOptions,
  due: DueInquiry,
): Promise<void> {
  const { machineId } = due;
  try {
    const revisions = await inquireMachine(store, due, now());
    await store.settleDueInquiry(due);
    if (revisions > 0) onAnswers?.(machineId);
  } catch (error) {
    if (error instanceof OperatingError && error.isRetriable) throw error;
    logger.error({ err: error, machineId }, 'the derates of a machine could not be inquired into');
  }
}
