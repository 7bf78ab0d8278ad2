import { setTimeout as sleep } from 'node:timers/promises';
import { findingMessageSchema } from '@warmbrick/contracts';
import { newsIdHeader, type PublisherLimits, startFindingsPublisher } from '@warmbrick/ingest';
import type { OutgoingMessage } from '@warmbrick/kafka';
import { OperatingError } from '@warmbrick/runtime';
import type { OutboxLease, OutboxMessage } from '@warmbrick/store';
import { describe, expect, it } from 'vitest';
import { until } from '../kafka/collect.js';
import { quiet } from '../kafka/kafka-provider.js';

/** An outbox in memory with the promises of the store's. */
class MemoryOutbox {
  readonly rows: (OutboxMessage & { freeAtMs: number; isSent: boolean })[] = [];

  add(key: string, revision = 1): void {
    const id = this.rows.length + 1;
    const findingId = `${key}~idle-streak~1`;
    const payload = { type: 'withdrawn', machineId: key, findingId } as const;
    const topic = 'aftertreatment.findings.v1';
    this.rows.push({ id, topic, key, findingId, revision, payload, atMs: 0, attempts: 0, freeAtMs: 0, isSent: false });
  }

  takeOutbox = async ({ limit, leaseMs }: OutboxLease) => {
    const blocked = new Set<string>();
    const free = this.rows.filter((row) => {
      if (row.isSent) return false;
      if (row.freeAtMs > Date.now()) blocked.add(row.key);
      return !blocked.has(row.key);
    });
    const taken = free.slice(0, limit);
    for (const row of taken) row.freeAtMs = Date.now() + leaseMs;
    return taken;
  };
  settleOutbox = async (ids: readonly number[]) => {
    for (const row of this.rows) if (ids.includes(row.id)) row.isSent = true;
  };
  failOutbox = async (ids: readonly number[], retryAtMs: number) => {
    for (const row of this.rows) if (ids.includes(row.id)) row.freeAtMs = retryAtMs;
  };
  isEmpty = () => this.rows.every(({ isSent }) => isSent);
}

const swift: PublisherLimits = { batch: 10, leaseMs: 150, pollMs: 10, retryMs: 20 };

function start(store: MemoryOutbox, send: (message: OutgoingMessage) => Promise<void>) {
  return startFindingsPublisher({
    store,
    producer: { send },
    topic: 'findings',
    owner: 'test',
    logger: quiet,
    limits: swift,
  });
}

describe('news of findings', () => {
  it('go out in order, under the id of finding and revision, and as the contract has them', async () => {
    const outbox = new MemoryOutbox();
    for (let revision = 1; revision <= 25; revision++) outbox.add('a', revision);
    const sent: OutgoingMessage[] = [];
    const publisher = start(outbox, async (message) => void sent.push(message));
    await until(outbox.isEmpty, 'all settled');
    await publisher.stop();
    expect(sent.map(({ headers }) => headers?.[newsIdHeader])).toEqual(
      Array.from({ length: 25 }, (_, i) => `a~idle-streak~1.${i + 1}`),
    );
    expect(findingMessageSchema.parse(JSON.parse(String(sent[0]?.value)))).toMatchObject({
      type: 'withdrawn',
      machineId: 'a',
    });
    expect(publisher.stats()).toEqual({ sent: 25, failed: 0 });
  });

  it('wait behind one of their key that is refused, and hold no other key up', async () => {
    const outbox = new MemoryOutbox();
    outbox.add('a', 1);
    outbox.add('b', 1);
    outbox.add('a', 2);
    let refusals = 3;
    const sent: string[] = [];
    const publisher = start(outbox, async ({ key, headers }) => {
      if (key === 'a' && headers?.revision === '1' && refusals-- > 0) {
        throw new OperatingError('no', { code: 'kafka-refused' });
      }
      sent.push(`${key}${headers?.revision}`);
    });
    await until(outbox.isEmpty, 'all settled');
    await publisher.stop();
    // Revision 2 may go out each time that revision 1 is refused; what counts is that it comes after it in the end.
    expect(sent.lastIndexOf('a2')).toBeGreaterThan(sent.indexOf('a1'));
    expect(sent.filter((one) => one === 'b1')).toHaveLength(1);
  });

  it('come again, and are not lost, when the process ends between sending and settling', async () => {
    const outbox = new MemoryOutbox();
    for (const key of ['a', 'b', 'c']) outbox.add(key);
    const sent: string[] = [];
    const send = async ({ key }: OutgoingMessage) => void sent.push(key);
    const settle = outbox.settleOutbox;
    outbox.settleOutbox = async () => {
      throw new OperatingError('gone', { code: 'store-unavailable', isRetriable: true });
    };
    const first = start(outbox, send);
    await until(() => sent.length === 3, 'sent once');
    await first.stop();
    outbox.settleOutbox = settle;
    await sleep(200);
    const second = start(outbox, send);
    await until(outbox.isEmpty, 'all settled');
    await second.stop();
    expect(sent.sort()).toEqual(['a', 'a', 'b', 'b', 'c', 'c']);
  });
});
