/** Puts waiting batches of many partitions together into few transactions, a few of which are under way at most. */

import type { BatchTools, PartitionBatch } from '@warmbrick/kafka';
import { OperatingError } from '@warmbrick/runtime';
import { partitionKey } from './partition-states.js';
import { commitDraft, type Draft, draftOf, type WorkContext, type WorkItem } from './work-batches.js';

interface RoundLimits {
  /** How long a batch waits for others, and for more messages to come together on its partition. */
  readonly lingerMs: number;
  /** So many messages waiting, those behind the batches too, and nothing waits any longer. */
  readonly eagerMessages: number;
  /** The same in bytes: a few packets are as much work as many single samples. */
  readonly eagerBytes: number;
  /** Bytes of messages of one transaction at most, if there is more than one batch in it. */
  readonly roundBytes: number;
}

export interface RoundsOptions {
  readonly context: WorkContext;
  readonly limits: RoundLimits;
  readonly onCommitted: (draft: Draft, tookMs: number, batches: number) => void;
  /** The store has turned a transaction away, since another has claimed one of its partitions. */
  readonly onFenced: () => void;
}

interface Waiting extends WorkItem {
  readonly key: string;
  readonly bytes: number;
  readonly sinceMs: number;
  readonly resolve: () => void;
  readonly reject: (error: unknown) => void;
}

/**
 * Transactions under way at most, and those of them before their commit: one is committed while another is analysed, and a
 * third waits in front of the threads, so that none of them is ever without work. Source: measured.
 */
const mostRounds = 3;
const mostAnalysing = 2;

export class BatchRounds {
  readonly #options: RoundsOptions;
  #waiting: Waiting[] = [];
  readonly #busy = new Set<string>();
  #rounds = 0;
  /** Rounds before their commit. */
  #analysing = 0;
  #isHasty = false;
  #timer: NodeJS.Timeout | null = null;

  constructor(options: RoundsOptions) {
    this.#options = options;
  }

  /**
   * Resolves when the batch is committed.
   *
   * Errors: OperatingError `fenced` when another owns the partition or it was taken away; those of the store. Nothing of the
   * batch is stored then, or all of it when the store's answer was lost; doing it again changes nothing.
   */
  take(batch: PartitionBatch, tools: BatchTools): Promise<void> {
    const bytes = batch.messages.reduce((sum, { value }) => sum + (value?.length ?? 0), 0);
    const sinceMs = performance.now();
    return new Promise((resolve, reject) => {
      this.#waiting.push({ batch, tools, key: partitionKey(batch), bytes, sinceMs, resolve, reject });
      this.#pump();
    });
  }

  /** More waits behind a batch: it may be worth beginning. */
  look(): void {
    this.#pump();
  }

  /** From now on nothing waits for company. */
  hasten(): void {
    this.#isHasty = true;
    this.#pump();
  }

  #pump(): void {
    if (this.#analysing >= mostAnalysing || this.#rounds >= mostRounds) return;
    this.#turnAwayRevoked();
    const ready = this.#ready();
    if (ready.length === 0) return;
    const waitMs = this.#waitMs(ready);
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
    if (waitMs > 0) {
      this.#timer = setTimeout(() => this.#pump(), waitMs);
      return;
    }
    const items = this.#upToLimit(ready);
    this.#waiting = this.#waiting.filter((one) => !items.includes(one));
    void this.#run(items);
  }

  #turnAwayRevoked(): void {
    for (const one of this.#waiting) if (one.tools.isRevoked()) one.reject(revoked());
    this.#waiting = this.#waiting.filter(({ tools }) => !tools.isRevoked());
  }

  /** One batch of each partition that is not at work; an earlier membership of ours may still be at it. */
  #ready(): Waiting[] {
    const keys = new Set(this.#busy);
    return this.#waiting.filter(({ key }) => {
      const isFree = !keys.has(key);
      keys.add(key);
      return isFree;
    });
  }

  #waitMs(ready: readonly Waiting[]): number {
    if (this.#isHasty) return 0;
    const { lingerMs, eagerMessages, eagerBytes } = this.#options.limits;
    let [messages, bytes] = [0, 0];
    for (const one of ready) {
      const behind = one.tools.behind();
      messages += one.batch.messages.length + behind.messages;
      bytes += one.bytes + behind.bytes;
    }
    if (messages >= eagerMessages || bytes >= eagerBytes) return 0;
    const oldestMs = Math.min(...ready.map(({ sinceMs }) => sinceMs));
    return Math.max(0, Math.ceil(oldestMs + lingerMs - performance.now()));
  }

  #upToLimit(ready: readonly Waiting[]): Waiting[] {
    let bytes = 0;
    const items: Waiting[] = [];
    for (const one of ready) {
      bytes += one.bytes;
      if (items.length > 0 && bytes > this.#options.limits.roundBytes) break;
      items.push(one);
    }
    return items;
  }

  async #run(items: readonly Waiting[]): Promise<void> {
    this.#rounds++;
    for (const { key } of items) this.#busy.add(key);
    try {
      await this.#work(items);
      for (const { resolve } of items) resolve();
    } catch (error) {
      await this.#oneByOne(items, error);
    } finally {
      for (const { key } of items) this.#busy.delete(key);
      this.#rounds--;
      this.#pump();
    }
  }

  /** Of several partitions, the fence says for one only that it is lost; the others deserve another try by themselves. */
  async #oneByOne(items: readonly Waiting[], error: unknown): Promise<void> {
    if (items.length === 1 || !isFence(error)) {
      for (const { reject } of items) reject(error);
      return;
    }
    for (const item of items) {
      try {
        if (item.tools.isRevoked()) throw revoked();
        await this.#work([item]);
        item.resolve();
      } catch (ownError) {
        item.reject(ownError);
      }
    }
  }

  async #work(items: readonly Waiting[]): Promise<void> {
    const { context, onCommitted } = this.#options;
    const startedMs = performance.now();
    const draft = await this.#draft(items);
    this.#pump();
    try {
      await commitDraft(context, draft);
    } catch (error) {
      draft.settle(false);
      if (isFence(error)) this.#options.onFenced();
      throw error;
    }
    draft.settle(true);
    onCommitted(draft, performance.now() - startedMs, items.length);
  }

  async #draft(items: readonly Waiting[]): Promise<Draft> {
    this.#analysing++;
    try {
      return await draftOf(this.#options.context, items);
    } finally {
      this.#analysing--;
    }
  }
}

function isFence(error: unknown): boolean {
  return error instanceof OperatingError && error.code === 'fenced';
}

function revoked(): OperatingError {
  return new OperatingError('The partition was taken away.', {
    code: 'fenced',
    remedy: 'Its next owner goes on from what is stored.',
  });
}
