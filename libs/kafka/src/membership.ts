/** What one consumer does from one join of the group to the next. Everything in it is void once it is revoked. */

import { setTimeout as sleep } from 'node:timers/promises';
import { OperatingError } from '@warmbrick/runtime';
import type { Batch, EachBatchPayload } from 'kafkajs';
import { createChangeSignal } from './change-signal.js';
import { isRetriable, logTooShortError, takenAwayError } from './consumer-errors.js';
import { createLane, type HeldBatch, type Lane, laneBehind, laneKey, startLane } from './lane.js';
import type { MembershipContext } from './membership-context.js';
import { planBatch } from './plan-batch.js';
import { readMessages, readRange } from './read-batch.js';
import type { TopicPartition } from './rendezvous-assigner.js';
import { tellPositions } from './tell-positions.js';
import { whileBeating } from './while-beating.js';

type Heartbeat = EachBatchPayload['heartbeat'];
type Commit = EachBatchPayload['commitOffsetsIfNecessary'];

export class Membership {
  readonly lanes = new Map<string, Lane>();
  readonly #context: MembershipContext;
  readonly #changed = createChangeSignal();
  #isRevoked = false;
  #isClosing = false;
  #heldBytes = 0;
  #inWork = 0;
  #lastCommitMs: number;
  #heartbeat: Heartbeat | null = null;
  #commit: Commit | null = null;

  constructor(context: MembershipContext, partitions: readonly TopicPartition[]) {
    this.#context = context;
    this.#lastCommitMs = context.now();
    for (const partition of partitions) this.lanes.set(laneKey(partition), createLane(partition));
  }

  isRevoked = (): boolean => this.#isRevoked;

  /** Nothing of this membership counts any more: what waits is thrown away, what is at work is told so. */
  revoke(): void {
    if (this.#isRevoked) return;
    this.#isRevoked = true;
    this.#context.counts.revocations++;
    for (const lane of this.lanes.values()) this.#empty(lane);
    this.#changed.wake();
  }

  /** Begins nothing more, and resolves when nothing is at work or `withinMs` are over. */
  async close(withinMs: number): Promise<void> {
    this.#isClosing = true;
    for (const lane of this.lanes.values()) this.#empty(lane);
    const untilMs = this.#context.now() + withinMs;
    while (this.#inWork > 0 && this.#context.now() < untilMs) await this.#changed.wait(untilMs - this.#context.now());
    await this.#tellPositions(0);
    this.revoke();
  }

  /** Takes a batch from the client; returns when it is queued or not wanted, and holds the client up while there is no room. */
  async take(payload: EachBatchPayload): Promise<void> {
    if (this.#isRevoked || this.#isClosing) return;
    this.#heartbeat = payload.heartbeat;
    this.#commit = payload.commitOffsetsIfNecessary;
    await this.#beat();
    const { batch } = payload;
    const lane = this.lanes.get(laneKey(batch));
    if (lane === undefined || !(await this.#ensureClaim(lane))) return;
    if (!this.#accept(lane, batch)) return;
    payload.resolveOffset(batch.lastOffset());
    await this.#waitForRoom(lane);
  }

  /** The client read what holds no messages: marks of transactions, messages undone. */
  passOver(range: TopicPartition & { readonly firstOffset: number; readonly lastOffset: number }): void {
    const lane = this.lanes.get(laneKey(range));
    if (lane === undefined || lane.claim === null || range.firstOffset > lane.position) return;
    lane.position = Math.max(lane.position, range.lastOffset + 1);
  }

  /** Errors: the client's, when the partitions are taken away; it has to see it to join again. Nothing once that is known. */
  async #beat(): Promise<void> {
    if (this.#isRevoked) return;
    try {
      await this.#heartbeat?.();
    } catch (error) {
      this.revoke();
      throw error;
    }
  }

  /** False when the partition is not to be worked on now. */
  async #ensureClaim(lane: Lane): Promise<boolean> {
    const { options, limits, counts, logger, now } = this.#context;
    const { topic, partition } = lane;
    if (lane.notBeforeMs > now()) await this.#whileBeating(sleep(lane.notBeforeMs - now()));
    for (let waitMs = limits.firstRetryMs; lane.claim === null; waitMs = Math.min(waitMs * 2, limits.longestRetryMs)) {
      if (this.#isRevoked || this.#isClosing) return false;
      try {
        const claim = await this.#whileBeating(options.claim({ topic, partition }));
        counts.claims++;
        startLane(lane, claim);
      } catch (error) {
        if (this.#isRevoked) throw error;
        if (!isRetriable(error)) {
          this.#fail(error);
          return false;
        }
        counts.retries++;
        logger.warn({ topic, partition, err: error, waitMs }, 'a partition was not claimed; trying again');
        await this.#whileBeating(sleep(waitMs));
      }
    }
    return !this.#isRevoked && !this.#isClosing;
  }

  /** Queues what is new of a batch; false when reading has to go on elsewhere. */
  #accept(lane: Lane, batch: Batch): boolean {
    const { counts, consumer, options, logger } = this.#context;
    const range = readRange(batch);
    lane.endOffset = Math.max(lane.endOffset, range.endOffset);
    const { step } = planBatch(lane.position, range, lane.soughtOffset);
    if (step === 'log-too-short') this.#bearShorterLog(lane, range.endOffset);
    else lane.shorterSinceMs = null;
    if (step === 'seek' || step === 'log-too-short') {
      counts.seeks++;
      if (range.fetchedOffset > lane.position) lane.soughtOffset = lane.position;
      consumer.seek({ topic: lane.topic, partition: lane.partition, offset: String(lane.position) });
      return false;
    }
    if (step === 'take-after-gap') {
      const gap = {
        topic: lane.topic,
        partition: lane.partition,
        fromOffset: lane.position,
        toOffset: range.fetchedOffset,
      };
      counts.gaps++;
      logger.error(gap, 'messages were gone before they were read');
      options.onGap?.(gap);
    }
    lane.soughtOffset = null;
    this.#enqueue(lane, batch, range.lastOffset + 1);
    return true;
  }

  #bearShorterLog(lane: Lane, endOffset: number): void {
    const { now, limits } = this.#context;
    lane.shorterSinceMs ??= now();
    if (now() - lane.shorterSinceMs <= limits.shorterLogMs) return;
    this.#fail(logTooShortError(lane, endOffset));
  }

  #enqueue(lane: Lane, batch: Batch, nextOffset: number): void {
    const { topic, partition, queuedOffset: expectedOffset } = lane;
    const { messages, bytes, dropped } = readMessages(batch, lane.position);
    this.#context.counts.dropped += dropped;
    const epoch = lane.claim?.epoch as number;
    lane.queue.push({ batch: { topic, partition, epoch, expectedOffset, nextOffset, messages }, bytes });
    lane.position = nextOffset;
    lane.queuedOffset = nextOffset;
    lane.heldBytes += bytes;
    this.#heldBytes += bytes;
    if (lane.isInWork) this.#context.options.onQueued?.();
    this.#pump();
  }

  /** While the sink keeps up, waiting is enough; a slow one has the partition paused, so that the others go on. */
  async #waitForRoom(lane: Lane): Promise<void> {
    const { now, limits, counts, consumer } = this.#context;
    const untilMs = now() + limits.pauseAfterMs;
    while (!this.#hasRoom(lane) && !this.#isRevoked && !this.#isClosing) {
      if (now() >= untilMs) {
        lane.isPaused = true;
        counts.pauses++;
        consumer.pause([{ topic: lane.topic, partitions: [lane.partition] }]);
        return;
      }
      await this.#changed.wait(Math.min(untilMs - now(), limits.heartbeatMs));
      await this.#beat();
    }
  }

  #hasRoom(lane: Lane): boolean {
    const { batchesPerPartition, heldBytes } = this.#context.limits;
    return lane.queue.length < batchesPerPartition && (this.#heldBytes < heldBytes || lane.queue.length === 0);
  }

  /** Starts handlers, as many as may be at work at once, on lanes in the order of the map. */
  #pump(): void {
    for (const lane of this.lanes.values()) {
      if (this.#inWork >= this.#context.limits.parallelHandlers) return;
      if (lane.isInWork || lane.queue.length === 0 || this.#isRevoked || this.#isClosing) continue;
      // Taken in turn: a lane that is served moves to the end.
      this.lanes.delete(laneKey(lane));
      this.lanes.set(laneKey(lane), lane);
      lane.isInWork = true;
      this.#inWork++;
      void this.#work(lane, lane.queue[0] as HeldBatch).finally(() => {
        lane.isInWork = false;
        this.#inWork--;
        this.#resume();
        this.#changed.wake();
        this.#pump();
      });
    }
  }

  async #work(lane: Lane, held: HeldBatch): Promise<void> {
    const { options, limits, counts, logger, onProgress } = this.#context;
    const { batch } = held;
    const tools = { heartbeat: () => this.#beatOfHandler(), isRevoked: this.isRevoked, behind: () => laneBehind(lane) };
    for (let waitMs = limits.firstRetryMs; !this.#isRevoked; waitMs = Math.min(waitMs * 2, limits.longestRetryMs)) {
      try {
        await options.handle(batch, tools);
        this.#settle(lane, held);
        return;
      } catch (error) {
        if (this.#isRevoked) return;
        if (error instanceof OperatingError && error.code === 'fenced') return this.#giveUp(lane);
        if (!isRetriable(error)) return this.#fail(error);
        counts.retries++;
        onProgress();
        logger.warn(
          { topic: batch.topic, partition: batch.partition, err: error, waitMs },
          'a batch was not taken; trying again',
        );
        await sleep(waitMs);
      }
    }
  }

  #settle(lane: Lane, held: HeldBatch): void {
    const { counts, onProgress } = this.#context;
    counts.batches++;
    counts.messages += held.batch.messages.length;
    onProgress();
    lane.handledOffset = held.batch.nextOffset;
    lane.handledTimestampMs = held.batch.messages.at(-1)?.timestampMs ?? lane.handledTimestampMs;
    if (lane.queue[0] === held) {
      lane.queue.shift();
      lane.heldBytes -= held.bytes;
      this.#heldBytes -= held.bytes;
    }
    void this.#tellPositions(this.#context.limits.commitEveryMs);
  }

  /** Another writer owns the partition now. If it is ours all the same, the next batch claims it anew, but not at once. */
  #giveUp(lane: Lane): void {
    const { counts, consumer, logger, now, limits } = this.#context;
    counts.fenced++;
    logger.warn({ topic: lane.topic, partition: lane.partition }, 'another writer owns the partition');
    const from = lane.handledOffset ?? 0;
    this.#empty(lane);
    Object.assign(lane, {
      claim: null,
      handledOffset: null,
      soughtOffset: null,
      notBeforeMs: now() + limits.fencedWaitMs,
    });
    consumer.seek({ topic: lane.topic, partition: lane.partition, offset: String(from) });
  }

  async #beatOfHandler(): Promise<void> {
    this.#context.onProgress();
    await this.#beat();
    if (this.#isRevoked) throw takenAwayError();
  }

  #empty(lane: Lane): void {
    this.#heldBytes -= lane.heldBytes;
    lane.heldBytes = 0;
    lane.queue.length = 0;
  }

  #resume(): void {
    if (this.#isRevoked) return;
    for (const lane of this.lanes.values()) {
      if (!lane.isPaused || !this.#hasRoom(lane)) continue;
      lane.isPaused = false;
      this.#context.consumer.resume([{ topic: lane.topic, partitions: [lane.partition] }]);
    }
  }

  async #tellPositions(everyMs: number): Promise<void> {
    const { now } = this.#context;
    if (this.#isRevoked || this.#commit === null || now() - this.#lastCommitMs < everyMs) return;
    this.#lastCommitMs = now();
    await tellPositions(this.lanes.values(), this.#commit);
  }

  #whileBeating<T>(job: Promise<T>): Promise<T> {
    return whileBeating(job, this.#context.limits.heartbeatMs, () => this.#beat());
  }

  #fail(error: unknown): void {
    this.revoke();
    this.#context.onFatal(error instanceof Error ? error : new Error(String(error)));
  }
}
