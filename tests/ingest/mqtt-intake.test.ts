import { gzipSync } from 'node:zlib';
import { type MqttIntake, type MqttIntakeOptions, startMqttIntake } from '@warmbrick/ingest';
import { OperatingError } from '@warmbrick/runtime';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { away, fakeIntake } from './fake-intake.js';
import { startTestBroker, type TestBroker } from './mqtt-broker.js';

const atMs = Date.UTC(2026, 2, 10, 6);
const quiet = { info: () => {}, warn: () => {}, error: () => {} };
const sample = (s: number, machineId = 'loader-01') =>
  JSON.stringify({ machineId, time: atMs + s * 1000, values: { engineSpeedRpm: 900 } });
const samplesOf = (machineId: string) => `machines/${machineId}/samples`;

let broker: TestBroker;
const started: MqttIntake[] = [];
beforeEach(async () => {
  broker = await startTestBroker();
});
afterEach(async () => {
  await Promise.all(started.splice(0).map((each) => each.stop()));
  await broker.close();
});

async function start(options: Partial<MqttIntakeOptions> & Pick<MqttIntakeOptions, 'intake'>): Promise<MqttIntake> {
  const mqtt = startMqttIntake({
    url: broker.url,
    clientId: 'intake',
    protocolVersion: 4,
    logger: quiet,
    now: () => atMs + 3_600_000,
    firstRetryMs: 5,
    longestRetryMs: 40,
    ...options,
  });
  started.push(mqtt);
  const subscribed = new Promise((resolve) => broker.broker.once('subscribe', resolve));
  await vi.waitFor(() => expect(mqtt.stats().isConnected).toBe(true), { timeout: 5000 });
  await subscribed;
  return mqtt;
}

const acks = () => broker.acknowledged.get('intake') ?? 0;
const soon = <T>(check: () => T) => vi.waitFor(check, { timeout: 10_000, interval: 10 });

describe('messages', () => {
  it('samples, packets, arrays, gzip and fault reports arrive and are acknowledged', async () => {
    const intake = fakeIntake();
    const mqtt = await start({ intake });
    const publisher = await broker.publisher();
    const packet = { machineId: 'loader-02', times: [atMs, atMs + 1000], channels: { engineSpeedRpm: [900, 950] } };
    const report = {
      machineId: 'loader-01',
      time: atMs,
      sourceAddress: 0,
      kind: 'active',
      codes: [{ spn: 3216, fmi: 4 }],
    };
    await publisher.publishAsync(samplesOf('loader-01'), sample(0), { qos: 1 });
    await publisher.publishAsync(samplesOf('loader-01'), `[${sample(1)},${sample(2)}]`, { qos: 1 });
    await publisher.publishAsync(samplesOf('loader-02'), gzipSync(JSON.stringify(packet)), { qos: 1 });
    await publisher.publishAsync('machines/loader-01/faults', JSON.stringify(report), { qos: 1 });
    await publisher.publishAsync('machines/loader-01/other', 'nobody asked', { qos: 1 });
    await publisher.publishAsync(samplesOf('loader-01'), sample(3), { qos: 0 });
    await soon(() => expect(mqtt.stats()).toMatchObject({ messages: 5, samples: 6, faultReports: 1, rejects: {} }));
    expect(intake.values.size).toBe(6);
    expect([...intake.reports.values()][0]?.codes[0]).toMatchObject({ spn: 3216, fmi: 4 });
    await soon(() => expect(acks()).toBe(4));
  });

  it('acknowledges only what is safe', async () => {
    const intake = fakeIntake();
    let commit = () => {};
    intake.after = () =>
      new Promise<void>((resolve) => {
        commit = resolve;
      });
    await start({ intake });
    const publisher = await broker.publisher();
    await publisher.publishAsync(samplesOf('loader-01'), sample(0), { qos: 1 });
    await soon(() => expect(intake.values.size).toBe(1));
    await new Promise((resolve) => setTimeout(resolve, 60));
    expect(acks()).toBe(0);
    commit();
    await soon(() => expect(acks()).toBe(1));
  });

  it('messages of no use are told with their reason, acknowledged, and do not come again', async () => {
    const intake = fakeIntake();
    const told: string[] = [];
    const mqtt = await start({
      intake,
      onReject: (reject, message) => {
        told.push(`${reject.reason} ${message.payload.length}`);
        if (told.length === 1) throw away();
        if (told.length === 3) throw new Error('a listener that fails for good');
      },
    });
    const publisher = await broker.publisher();
    const bad = [
      'not json',
      '{"machineId":"loader-01"}',
      sample(0, 'loader-99'),
      Buffer.concat([Buffer.from([0x1f, 0x8b]), Buffer.from('damaged')]),
      gzipSync(Buffer.alloc(8 * 1024 * 1024, 32)),
      '[',
      '',
    ];
    for (const payload of bad) await publisher.publishAsync(samplesOf('loader-01'), payload, { qos: 1 });
    await publisher.publishAsync(samplesOf('loader-01'), sample(1), { qos: 1 });
    await soon(() => expect(acks()).toBe(bad.length + 1));
    expect(mqtt.stats().rejects).toEqual({
      'bad-json': 3,
      'unknown-form': 1,
      'machine-mismatch': 1,
      'too-large': 1,
    });
    expect(told[0]).toBe('bad-json 8');
    expect(told[1]).toBe('bad-json 8');
    expect([...intake.values.keys()]).toEqual([`loader-01 ${atMs + 1000} engineSpeedRpm`]);
    await mqtt.stop();
    const again = fakeIntake();
    const next = await start({ intake: again });
    await publisher.publishAsync(samplesOf('loader-01'), sample(2), { qos: 1 });
    await soon(() => expect(again.values.size).toBe(1));
    expect(next.stats().messages).toBe(1);
  });

  it('what the pipeline refuses for good, or cannot work, does not come for ever, and takes nothing else with it', async () => {
    const intake = fakeIntake();
    const { samples } = intake;
    const batches: number[] = [];
    let isHeld = true;
    intake.before = () => {
      if (isHeld) throw away();
    };
    intake.samples = async (blocks, origin) => {
      batches.push(blocks.length);
      const times = blocks.flatMap(({ timeMs }) => [...timeMs]);
      if (!isHeld && times.includes(atMs + 7000)) throw new OperatingError('too large', { code: 'batch-too-large' });
      if (!isHeld && times.includes(atMs + 9000)) throw new TypeError('a bug');
      await samples(blocks, origin);
    };
    const told: string[] = [];
    const onReject = (reject: { reason: string }, message: { payload: Uint8Array }) =>
      void told.push(`${reject.reason} ${JSON.parse(Buffer.from(message.payload).toString()).time - atMs}`);
    const mqtt = await start({ intake, onReject });
    const publisher = await broker.publisher();
    for (let s = 0; s < 20; s++) await publisher.publishAsync(samplesOf('loader-01'), sample(s), { qos: 1 });
    isHeld = false;
    await soon(() => expect(acks()).toBe(20));
    expect(mqtt.stats()).toMatchObject({ messages: 20, samples: 18, rejects: { refused: 2 } });
    expect(told).toEqual(['refused 7000', 'refused 9000']);
    expect(intake.values.size).toBe(18);
    expect(Math.max(...batches)).toBeGreaterThan(1);
  });

  it.each([1, 2, 5])('holds %i at most, whatever the pace of sender and store', async (unacknowledged) => {
    const intake = fakeIntake();
    const { samples } = intake;
    let most = 0;
    intake.samples = async (blocks, origin) => {
      most = Math.max(most, blocks.length);
      await samples(blocks, origin);
    };
    intake.after = () =>
      new Promise((resolve) => (intake.calls % 3 === 0 ? setTimeout(resolve, 3) : setImmediate(resolve)));
    await start({ intake, unacknowledged });
    const publisher = await broker.publisher();
    const published = Array.from({ length: 200 }, (_, s) =>
      publisher.publishAsync(samplesOf('loader-01'), sample(s), { qos: 1 }),
    );
    await Promise.all(published);
    await soon(() => expect(acks()).toBe(200));
    expect(intake.values.size).toBe(200);
    expect(most).toBeLessThanOrEqual(unacknowledged);
  });

  it('many that wait are stored in one go', async () => {
    const first = await start({ intake: fakeIntake() });
    await first.stop();
    const publisher = await broker.publisher();
    for (let s = 0; s < 300; s++) await publisher.publishAsync(samplesOf('loader-01'), sample(s), { qos: 1 });
    const intake = fakeIntake();
    intake.after = () => new Promise((resolve) => setTimeout(resolve, 10));
    await start({ intake });
    await soon(() => expect(acks()).toBe(300));
    expect(intake.values.size).toBe(300);
    expect(intake.calls).toBeLessThan(100);
  });
});

describe('when something fails', () => {
  const count = 120;
  async function publishAll() {
    const publisher = await broker.publisher();
    for (let s = 0; s < count; s++) await publisher.publishAsync(samplesOf('loader-01'), sample(s), { qos: 1 });
  }

  it('an intake that fails and recovers, before or after its commit, loses nothing', async () => {
    const intake = fakeIntake();
    let calls = 0;
    intake.before = () => {
      if (++calls % 4 === 1) throw away();
    };
    let commits = 0;
    intake.after = () => {
      if (++commits % 5 === 2) throw away();
    };
    const mqtt = await start({ intake });
    await publishAll();
    await soon(() => expect(acks()).toBe(count));
    expect(intake.values.size).toBe(count);
    // The first call fails for certain; how many there are hangs on how many messages come together.
    expect(mqtt.stats().retries).toBeGreaterThan(0);
    expect(mqtt.stats().connections).toBe(1);
  });

  it('a broker that restarts again and again loses nothing', async () => {
    const intake = fakeIntake();
    intake.after = () => new Promise((resolve) => setTimeout(resolve, 2));
    const mqtt = await start({ intake });
    const publishing = publishAll();
    for (let turn = 0; turn < 3; turn++) {
      await new Promise((resolve) => setTimeout(resolve, 70));
      await broker.goAway();
      await new Promise((resolve) => setTimeout(resolve, 30));
      await broker.comeBack();
      await soon(() => expect(mqtt.stats().connections).toBeGreaterThanOrEqual(turn + 2));
    }
    await publishing;
    await soon(() => expect(intake.values.size).toBe(count));
    expect(mqtt.stats().isConnected).toBe(true);
  });

  it('a connection that breaks between commit and acknowledgement brings the message twice, with the same result', async () => {
    const intake = fakeIntake();
    let cuts = 0;
    intake.after = async () => {
      if (cuts >= 3) return;
      cuts++;
      await broker.goAway();
      await broker.comeBack();
    };
    const mqtt = await start({ intake });
    const publisher = await broker.publisher();
    await publisher.publishAsync(samplesOf('loader-01'), sample(0), { qos: 1 });
    await publisher.publishAsync(samplesOf('loader-01'), sample(1), { qos: 1 });
    await soon(() => expect(intake.values.size).toBe(2));
    await soon(() => expect(mqtt.stats().messages).toBeGreaterThanOrEqual(5));
    expect(intake.calls).toBeGreaterThanOrEqual(5);
    await mqtt.stop();
    // Acknowledged in the end: nothing is left with the broker.
    const rest = fakeIntake();
    await start({ intake: rest });
    await new Promise((resolve) => setTimeout(resolve, 100));
    expect(rest.calls).toBe(0);
  });

  it('a process that dies after the commit leaves the message to the next one', async () => {
    const dying = fakeIntake();
    // It never comes back from its commit, as a killed process does not.
    dying.after = () => new Promise(() => {});
    await start({ intake: dying });
    await publishAll();
    await soon(() => expect(dying.values.size).toBe(1));
    const next = fakeIntake();
    started.length = 0;
    await start({ intake: next });
    await soon(() => expect(next.values.size).toBe(count));
    expect([...next.values.keys()]).toContain([...dying.values.keys()][0]);
  });

  it('what is published while we are away waits with the broker', async () => {
    const first = await start({ intake: fakeIntake() });
    await first.stop();
    await publishAll();
    const intake = fakeIntake();
    await start({ intake });
    await soon(() => expect(intake.values.size).toBe(count));
  });

  it('a store that stays away for longer than the keep-alive does not cost the connection, and holds few messages', async () => {
    const intake = fakeIntake();
    let isAway = true;
    intake.before = () => {
      if (isAway) throw away();
    };
    const { samples } = intake;
    let most = 0;
    intake.samples = async (blocks, origin) => {
      most = Math.max(most, blocks.length);
      await samples(blocks, origin);
    };
    const mqtt = await start({ intake, keepaliveS: 5, unacknowledged: 10 });
    const publisher = await broker.publisher();
    for (let s = 0; s < 30; s++) await publisher.publishAsync(samplesOf('loader-01'), sample(s), { qos: 1 });
    await new Promise((resolve) => setTimeout(resolve, 12_000));
    expect(mqtt.stats().connections).toBe(1);
    expect(acks()).toBe(0);
    isAway = false;
    await soon(() => expect(acks()).toBe(30));
    expect(mqtt.stats().connections).toBe(1);
    expect(most).toBeLessThanOrEqual(10);
  }, 40_000);

  it('stopping finishes the message in work and acknowledges it', async () => {
    const intake = fakeIntake();
    let release = () => {};
    intake.after = () =>
      new Promise<void>((resolve) => {
        release = resolve;
      });
    const mqtt = await start({ intake });
    const publisher = await broker.publisher();
    await publisher.publishAsync(samplesOf('loader-01'), sample(0), { qos: 1 });
    // The second comes while the first is in work, or both would be worked together.
    await soon(() => expect(intake.values.size).toBe(1));
    await publisher.publishAsync(samplesOf('loader-01'), sample(1), { qos: 1 });
    const stopped = mqtt.stop();
    release();
    await stopped;
    expect(acks()).toBe(1);
    const next = fakeIntake();
    await start({ intake: next });
    await soon(() => expect([...next.values.keys()]).toEqual([`loader-01 ${atMs + 1000} engineSpeedRpm`]));
  });

  it('waits longer and longer for a broker that is not there', async () => {
    await broker.goAway();
    const mqtt = startMqttIntake({
      url: broker.url,
      clientId: 'patient',
      protocolVersion: 4,
      intake: fakeIntake(),
      logger: quiet,
      firstRetryMs: 5,
      longestRetryMs: 100,
    });
    started.push(mqtt);
    await new Promise((resolve) => setTimeout(resolve, 150));
    expect(mqtt.stats()).toMatchObject({ isConnected: false, connections: 0 });
    await broker.comeBack();
    await soon(() => expect(mqtt.stats().isConnected).toBe(true));
  });
});

describe('settings', () => {
  it('are refused when they are wrong', () => {
    const base = { url: broker.url, clientId: 'a', intake: fakeIntake(), logger: quiet };
    for (const wrong of [
      { ...base, url: 'http://broker.example' },
      { ...base, clientId: '' },
      { ...base, topics: { samples: 'machines/{machine}/samples' } },
      { ...base, topics: { samples: '{machineId}/{machineId}' } },
      { ...base, shareGroup: 'a/b' },
    ])
      expect(() => startMqttIntake(wrong)).toThrow();
    expect(() => startMqttIntake({ ...base, caFile: '/nowhere/ca.pem' })).toThrow(/certificates/);
  });
});
