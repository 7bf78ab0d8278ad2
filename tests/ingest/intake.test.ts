import { decodeFaultMessage, decodeSampleMessage, messageLimits, topics } from '@warmbrick/contracts';
import { directIntake, kafkaIntake, type ProducedMessage } from '@warmbrick/ingest';
import type { FaultReport } from '@warmbrick/signals';
import { describe, expect, it } from 'vitest';
import { createMemoryStore } from '../alerts-api/memory-store.js';
import { contentsOf, pieces, simulated, startMs, testIngest } from './drive.js';
import { away, valuesOf } from './fake-intake.js';

const whole = simulated('m1');
const origin = { way: 'folder', name: 'a' } as const;
const report: FaultReport = {
  machineId: 'm1',
  timeMs: startMs + 1,
  sourceAddress: 3,
  kind: 'active',
  lamps: { malfunction: 'off', redStop: 'off', amberWarning: 'on', protect: 'unavailable' },
  flash: 255,
  codes: [{ spn: 3216, fmi: 4, occurrenceCount: null, conversionMethod: 0 }],
};

describe('the intake through topics', () => {
  it('its messages say the same as the blocks, in packets within the bounds of a message', async () => {
    const sent: { topic: string; message: ProducedMessage }[] = [];
    const intake = kafkaIntake(async (topic, messages) => {
      expect(messages.length).toBeLessThanOrEqual(50);
      sent.push(...messages.map((message) => ({ topic, message })));
    });
    // Single samples of two machines, not in order.
    const singles = [...pieces(whole, 1), ...pieces(simulated('m2'), 700)].reverse();
    await intake.samples(singles, origin);
    await intake.faults([report], origin);
    const blocks = [];
    for (const { topic, message } of sent) {
      const payload = Buffer.from(message.value);
      // The usual limit of a broker, message.max.bytes. Source: Apache Kafka documentation, broker configurations.
      expect(payload.length).toBeLessThan(1_048_588);
      if (topic !== topics.samples) {
        expect(decodeFaultMessage(payload, startMs + 1e7)).toEqual({ form: 'faults', report });
        continue;
      }
      const decoded = decodeSampleMessage(payload, startMs + 1e7);
      if (decoded.form !== 'samples') throw new Error('not a message of samples');
      expect(message.key).toBe(decoded.block.machineId);
      expect(decoded.block.timeMs.length).toBeLessThanOrEqual(messageLimits.samples);
      expect(decoded.counts).toMatchObject({ unknownChannels: 0, notNumbers: 0, implausible: 0 });
      blocks.push(decoded.block);
    }
    expect(blocks.length).toBeLessThan(12);
    const sorted = (values: Map<string, number>) => [...values].sort(([a], [b]) => (a < b ? -1 : 1));
    expect(sorted(valuesOf(blocks))).toEqual(sorted(valuesOf(singles)));
  });

  it('fails when the produce fails', async () => {
    const intake = kafkaIntake(async () => {
      throw away();
    });
    await expect(intake.samples([whole], origin)).rejects.toMatchObject({ code: 'store-unavailable' });
    await expect(intake.faults([report], origin)).rejects.toMatchObject({ code: 'store-unavailable' });
  });
});

describe('the direct intake', () => {
  it('has everything committed when it resolves', async () => {
    const store = createMemoryStore();
    const intake = directIntake(testIngest(store));
    await intake.samples(pieces(whole, 500), origin);
    expect((await contentsOf(store, 'm1')).samples).toHaveLength(whole.timeMs.length);
    await intake.faults([report], origin);
    await intake.faults([], origin);
    expect((await store.listFaults({ machineId: 'm1', limit: 10 })).items).toEqual([report]);
  });
});
