/** A machine's day over MQTT, through a broker and a store that fail, ends as if it had been fed at once. */

import { directIntake, startMqttIntake } from '@warmbrick/ingest';
import { OperatingError } from '@warmbrick/runtime';
import { blockChannels, type SampleBlock } from '@warmbrick/signals';
import { describe, expect, it, vi } from 'vitest';
import { createMemoryStore } from '../alerts-api/memory-store.js';
import { contentsOf, pieces, simulated, startMs, testIngest } from './drive.js';
import { startTestBroker } from './mqtt-broker.js';

function packetOf(block: SampleBlock): string {
  const channels = blockChannels(block).map((name) => [
    name,
    Array.from(block.channels[name] ?? [], (value) => (Number.isNaN(value) ? null : value)),
  ]);
  return JSON.stringify({
    machineId: block.machineId,
    times: [...block.timeMs],
    channels: Object.fromEntries(channels),
  });
}

describe('a day over MQTT', () => {
  it('ends the same though connections break after commits, messages come twice and the store fails', async () => {
    const whole = simulated('m1');
    const expected = createMemoryStore();
    await testIngest(expected).accept([whole]);

    const broker = await startTestBroker();
    const subscribed = new Promise((resolve) => broker.broker.once('subscribe', resolve));
    const store = createMemoryStore();
    let commits = 0;
    store.beforeCommit = () => {
      if (++commits % 7 === 3) throw new OperatingError('gone', { code: 'store-unavailable', isRetriable: true });
    };
    const ingest = testIngest(store, { limits: { firstRetryMs: 1, longestRetryMs: 2 } });
    const direct = directIntake(ingest);
    let taken = 0;
    const mqtt = startMqttIntake({
      url: broker.url,
      clientId: 'intake',
      protocolVersion: 4,
      logger: { info: () => {}, warn: () => {}, error: () => {} },
      now: () => startMs + 8_000_000,
      firstRetryMs: 2,
      longestRetryMs: 10,
      unacknowledged: 3,
      intake: {
        ...direct,
        async samples(blocks, origin) {
          await direct.samples(blocks, origin);
          // Committed, and the acknowledgement never arrives.
          if (++taken % 3 !== 2) return;
          await broker.goAway();
          await broker.comeBack();
        },
      },
    });
    await subscribed;
    const publisher = await broker.publisher();
    const packets = pieces(whole, 300).map(packetOf);
    // Late ones too.
    for (const payload of [...packets.slice(4), ...packets.slice(0, 4)]) {
      await publisher.publishAsync('machines/m1/samples', payload, { qos: 1 });
    }
    await vi.waitFor(async () => expect((await contentsOf(store, 'm1')).samples).toHaveLength(whole.timeMs.length), {
      timeout: 15_000,
      interval: 100,
    });
    await mqtt.stop();
    expect(mqtt.stats().connections).toBeGreaterThan(3);
    expect(mqtt.stats().messages).toBeGreaterThan(packets.length);
    expect(await contentsOf(store, 'm1')).toEqual(await contentsOf(expected, 'm1'));
    await broker.close();
  }, 30_000);
});
