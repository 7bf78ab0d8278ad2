/** The notifier in this process, with receivers, a mail server and a broker of ours on loopback. */

import type { AddressInfo } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { type NotifierOptions, startNotifier } from '@warmbrick/notifier';
import { createLogger } from '@warmbrick/runtime';
import type { Destination, Store } from '@warmbrick/store';
import { SMTPServer } from 'smtp-server';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { startTestBroker } from '../ingest/mqtt-broker.js';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { alertEvent, destinationOf, writeOutbox } from './alerts.js';
import { type Receiver, startReceiver } from './receiver.js';

let server: TestServer;
let url: string;
let store: Store;
const undo: (() => Promise<unknown>)[] = [];

beforeAll(async () => {
  server = await startTestServer();
});
afterAll(() => server.stop());
beforeEach(async () => {
  url = await server.freshDatabase();
  store = await server.openOn(url);
  return async () => {
    for (let step = undo.pop(); step !== undefined; step = undo.pop()) await step();
  };
});

const settings = { mailFrom: 'Warmbrick <warm@site.example>', webhookAllowedRanges: ['127.0.0.0/8'] };
const fast = { firstMs: 40, longestMs: 200, giveUpAfterMs: 1500 };

async function start(options: Partial<NotifierOptions> = {}): Promise<void> {
  const notifier = await startNotifier({
    store,
    settings,
    owner: 'test',
    logger: createLogger({ name: 'test', level: 'silent' }),
    publicUrl: 'https://warm.example/',
    producer: null,
    plan: { pollMs: 20, retryMs: 50 },
    deliver: { pollMs: 20 },
    schedule: fast,
    webhook: { timeoutMs: 300 },
    ...options,
  });
  undo.push(() => notifier.stop());
}

async function receiver(answer?: Receiver['answer']): Promise<Receiver> {
  const made = await startReceiver();
  if (answer !== undefined) made.answer = answer;
  undo.push(() => made.close());
  return made;
}

async function settled(count: number) {
  for (const endMs = Date.now() + 30_000; ; await sleep(30)) {
    const { items } = await store.listDeliveries({ limit: 100 });
    if (items.length === count && items.every(({ state }) => state !== 'waiting')) return items;
    if (Date.now() > endMs) throw new Error(`not settled: ${JSON.stringify(items)}`);
  }
}

describe('a receiver in trouble', () => {
  it('gets the same message again until it takes it, and the log has every try', async () => {
    let calls = 0;
    const target = await receiver((response) => response.writeHead(++calls < 4 ? 500 : 200).end());
    await store.putDestination(destinationOf('d', { address: target.url }));
    await start();
    await writeOutbox(url, [alertEvent('m', 0)]);
    const [delivery] = await settled(1);
    expect(delivery).toMatchObject({ state: 'sent', attempts: 4 });
    const log = await store.deliveryAttempts(delivery?.id ?? '');
    expect(log?.map(({ result, status }) => `${result} ${status}`)).toEqual([
      ...Array(3).fill('failed 500'),
      'taken 200',
    ]);
    expect([...target.bodies.values()].map(({ size }) => size)).toEqual([1]);
  });

  it('that never answers is given up, and can be sent to again by hand', async () => {
    let isMute = true;
    const target = await receiver((response) => {
      if (!isMute) response.writeHead(200).end();
    });
    await store.putDestination(destinationOf('d', { address: target.url }));
    await start();
    await writeOutbox(url, [alertEvent('m', 0)]);
    const [dead] = await settled(1);
    expect(dead?.state).toBe('dead');
    expect(dead?.attempts).toBeGreaterThan(2);
    isMute = false;
    await store.resendDelivery(dead?.id ?? '', 0);
    expect(await settled(1)).toMatchObject([{ id: dead?.id, state: 'sent', attempts: 1 }]);
  });

  it('does not hold up the others, however much waits for it', async () => {
    const mute = await receiver(() => {});
    const good = await receiver();
    await store.putDestination(destinationOf('mute', { address: mute.url }));
    await store.putDestination(destinationOf('good', { address: good.url }));
    await writeOutbox(
      url,
      Array.from({ length: 60 }, (_, k) => alertEvent(`m${k}`, 0)),
    );
    const startedMs = Date.now();
    await start({ webhook: { timeoutMs: 20_000 } });
    while (good.bodies.size < 60) {
      await sleep(20);
      expect(Date.now() - startedMs).toBeLessThan(15_000);
    }
    expect(mute.bodies.size).toBeLessThanOrEqual(4);
    await mute.close();
  });

  it('that says 410, or whose address leads inside, is not asked again', async () => {
    const gone = await receiver((response) => response.writeHead(410).end());
    await store.putDestination(destinationOf('gone', { address: gone.url }));
    await store.putDestination(destinationOf('inside', { address: 'http://169.254.169.254/latest' }));
    await start();
    await writeOutbox(url, [alertEvent('m', 0)]);
    const deliveries = await settled(2);
    expect(deliveries.map(({ state, attempts }) => [state, attempts])).toEqual(Array(2).fill(['dead', 1]));
  });
});

describe('mail', () => {
  interface Mail {
    readonly to: string[];
    readonly text: string;
  }
  async function mailServer(): Promise<{ url: string; mails: Mail[]; refuse: { code: number | null } }> {
    const mails: Mail[] = [];
    const refuse: { code: number | null } = { code: null };
    const smtp = new SMTPServer({
      authOptional: true,
      disabledCommands: ['STARTTLS'],
      onData(stream, session, done) {
        let text = '';
        stream.on('data', (part: Buffer) => {
          text += part.toString();
        });
        stream.on('end', () => {
          if (refuse.code !== null) return done(Object.assign(new Error('no'), { responseCode: refuse.code }));
          mails.push({ to: session.envelope.rcptTo.map(({ address }) => address), text });
          done(null);
        });
      },
    });
    await new Promise<void>((resolve) => smtp.listen(0, '127.0.0.1', resolve));
    undo.push(() => new Promise<void>((resolve) => smtp.close(() => resolve())));
    return { url: `smtp://127.0.0.1:${(smtp.server.address() as AddressInfo).port}`, mails, refuse };
  }
  const mailTo = (other: Partial<Destination> = {}) =>
    destinationOf('d', { kind: 'mail', address: 'lead@site.example, night@site.example', ...other });
  const header = (mail: Mail | undefined, name: string) =>
    new RegExp(`^${name}: (.*(?:\\r\\n\\s.*)*)`, 'im').exec(mail?.text ?? '')?.[1];

  it('goes to everybody with a plain part, and what belongs together is one thread', async () => {
    const { url: smtpUrl, mails } = await mailServer();
    await store.putDestination(mailTo());
    await writeOutbox(url, [alertEvent('m', 0), alertEvent('m', 1, { step: 'closed', notice: 'inform' })]);
    await start({ settings: { ...settings, smtpUrl } });
    await settled(2);
    expect(mails.map(({ to }) => to)).toEqual(Array(2).fill(['lead@site.example', 'night@site.example']));
    const [first, second] = mails;
    // Source: RFC 5322, 3.6.4 for threads; RFC 2046, 5.1.4 for alternatives; RFC 3834, 5 for Auto-Submitted.
    expect(header(first, 'References')).toBe(header(second, 'References'));
    expect(header(first, 'Message-ID')).not.toBe(header(second, 'Message-ID'));
    expect(header(first, 'Content-Type')).toContain('multipart/alternative');
    expect(first?.text).toContain('Content-Type: text/plain');
    expect(header(first, 'Auto-Submitted')).toBe('auto-generated');
    expect(header(second, 'Subject')).toBe('Over: Loader m: Idle for over an hour');
  });

  it('comes as one digest where that is wished', async () => {
    const { url: smtpUrl, mails } = await mailServer();
    await store.putDestination(mailTo({ digestMinutes: 60 }));
    await writeOutbox(url, [
      alertEvent('m', 0),
      alertEvent('m', 1, { step: 'closed', notice: 'inform' }),
      alertEvent('n', 0),
    ]);
    await start({ settings: { ...settings, smtpUrl } });
    while ((await store.listDeliveries({ limit: 10 })).items.length < 3) await sleep(20);
    expect(mails).toEqual([]);
    // The hour is over.
    for (const { id } of (await store.listDeliveries({ limit: 10 })).items) await store.resendDelivery(id, 0);
    await settled(3);
    expect(
      mails.reduce((sum, mail) => sum + (mail.text.match(/It has been idling/g)?.length ?? 0), 0),
    ).toBeGreaterThanOrEqual(6);
    expect(mails.length).toBeLessThanOrEqual(2);
  });

  it('is tried again after 4xx and given up after 5xx', async () => {
    const { url: smtpUrl, mails, refuse } = await mailServer();
    await store.putDestination(mailTo());
    refuse.code = 451;
    await start({ settings: { ...settings, smtpUrl } });
    await writeOutbox(url, [alertEvent('m', 0)]);
    while (((await store.listDeliveries({ limit: 1 })).items[0]?.attempts ?? 0) < 2) await sleep(20);
    refuse.code = null;
    expect(await settled(1)).toMatchObject([{ state: 'sent' }]);
    refuse.code = 550;
    await writeOutbox(url, [alertEvent('n', 0)]);
    expect((await settled(2)).map(({ state }) => state)).toEqual(['dead', 'sent']);
    expect(mails.length).toBe(1);
  });
});

describe('other ways', () => {
  it('publish on an MQTT broker and go on when it has been away', async () => {
    const broker = await startTestBroker();
    undo.push(() => broker.close());
    const listener = await broker.publisher();
    const got: string[] = [];
    listener.on('message', (_topic, body) => got.push(JSON.parse(body.toString()).data.machineId));
    await listener.subscribeAsync('alerts/site', { qos: 1 });
    await store.putDestination(destinationOf('d', { kind: 'mqtt', address: 'alerts/site' }));
    await start({ settings: { ...settings, alertsMqttUrl: broker.url }, schedule: { ...fast, giveUpAfterMs: 60_000 } });
    await writeOutbox(url, [alertEvent('m', 0)]);
    await settled(1);
    await broker.goAway();
    await writeOutbox(url, [alertEvent('n', 0)]);
    while (((await store.listDeliveries({ limit: 1 })).items[0]?.attempts ?? 0) < 1) await sleep(20);
    await broker.comeBack();
    await settled(2);
    while (got.length < 2) await sleep(20);
    expect(new Set(got)).toEqual(new Set(['m', 'n']));
  });

  it('publish every step on the topic, in order of each machine, also after a refusal', async () => {
    const sent: string[] = [];
    let refusals = 2;
    const producer = {
      async send({ key, headers, topic }: { key: string; topic: string; headers?: Record<string, string> }) {
        if (key === 'm' && refusals-- > 0) throw new Error('not now');
        sent.push(`${topic} ${key} ${headers?.revision}`);
      },
    } as unknown as NotifierOptions['producer'];
    await writeOutbox(url, [
      alertEvent('m', 0),
      alertEvent('m', 1, { step: 'commented', notice: 'quiet' }),
      alertEvent('n', 0),
    ]);
    await start({ producer });
    while (sent.length < 3) await sleep(20);
    const topic = 'aftertreatment.alerts.v1';
    expect(sent.filter((line) => line.includes(' m '))).toEqual([`${topic} m 0`, `${topic} m 1`]);
    expect(sent).toContain(`${topic} n 0`);
  });

  it('fail with a reason where they are not configured', async () => {
    await store.putDestination(destinationOf('mail', { kind: 'mail', address: 'lead@site.example' }));
    await store.putDestination(destinationOf('mqtt', { kind: 'mqtt', address: 'alerts' }));
    await start();
    await writeOutbox(url, [alertEvent('m', 0)]);
    const deliveries = await settled(2);
    for (const { id, state } of deliveries) {
      expect(state).toBe('dead');
      expect((await store.deliveryAttempts(id))?.[0]).toMatchObject({ status: 'not-configured' });
    }
  });
});
