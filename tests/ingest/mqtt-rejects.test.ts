/** What gateways send in vain: kept in the table and told to the topic, once however often it comes. */

import { rejectMessageSchema } from '@warmbrick/contracts';
import { keepMqttRejects, publishRejects } from '@warmbrick/ingest';
import { OperatingError } from '@warmbrick/runtime';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';

const quiet = { info: () => {}, warn: () => {}, error: () => {} };
const atMs = Date.UTC(2026, 2, 10, 6);
const message = { topic: 'machines/loader-01/samples', payload: Buffer.from('not json') };
const reject = { reason: 'bad-json', where: 'message', detail: 'the payload is not JSON in UTF-8' } as const;

let server: TestServer;
let store: Store;
beforeAll(async () => {
  server = await startTestServer();
  store = await server.openOn(await server.freshDatabase());
}, 60_000);
afterAll(() => server?.stop());

describe('rejects of gateways', () => {
  it('are in the table once, with their topic, reason and payload, and on the topic', async () => {
    const sent: { topic: string; value: string }[] = [];
    const producer = {
      send: async ({ topic, value }: { topic: string; value: string | Buffer | null }) =>
        void sent.push({ topic, value: String(value) }),
    };
    const publish = (rejects: Parameters<typeof publishRejects>[1]) =>
      publishRejects({ producer, topic: 'rejects', logger: quiet }, rejects);
    const keep = keepMqttRejects({ store, publish, now: () => atMs });
    await keep(reject, message);
    await keep(reject, message);
    await keep({ reason: 'machine-mismatch', where: 'line 2', detail: 'speaks for another' }, message);
    const { items } = await store.listRejects({ limit: 10, source: `mqtt/${message.topic}` });
    expect(items.map(({ reason, detail }) => `${reason}: ${detail}`).sort()).toEqual([
      'bad-json: the payload is not JSON in UTF-8',
      'machine-mismatch: line 2: speaks for another',
    ]);
    expect(items[0]).toMatchObject({ partition: 0, atMs, isTruncated: false });
    expect(Buffer.from(items[0]?.payload ?? []).toString()).toBe('not json');
    const told = sent.map(({ value }) => rejectMessageSchema.parse(JSON.parse(value)));
    expect(told.map(({ reason }) => reason)).toEqual(['bad-json', 'bad-json', 'bad-shape']);
    expect(told[0]?.position).toMatchObject({ source: 'mqtt', topic: message.topic });
  });

  it('are tried again by the intake when the topic or the table does not take them', async () => {
    const away = async () => {
      throw new OperatingError('away', { code: 'kafka-unavailable', isRetriable: true });
    };
    await expect(keepMqttRejects({ store, publish: away })(reject, message)).rejects.toMatchObject({
      isRetriable: true,
    });
    await expect(keepMqttRejects({ store: { commit: away } })(reject, message)).rejects.toMatchObject({
      isRetriable: true,
    });
  });
});
