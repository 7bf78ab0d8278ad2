/** The intake on the wire of MQTT 5.0, against a broker of a few lines that speaks only what these checks need. */

import { type AddressInfo, createServer, type Server, type Socket } from 'node:net';
import { type MqttIntake, startMqttIntake } from '@warmbrick/ingest';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { away, fakeIntake } from './fake-intake.js';

/** Source: MQTT 5.0, 2.1.2, table 2-1: packet types in the upper four bits of the first byte. */
const types = { connect: 1, puback: 4, subscribe: 8, disconnect: 14 } as const;

interface Packet {
  readonly type: number;
  readonly body: Buffer;
}

const received: Packet[] = [];
let server: Server;
let socket: Socket | undefined;
let intake: ReturnType<typeof fakeIntake>;
let mqtt: MqttIntake;

/** Source: MQTT 5.0, 3.2 (CONNACK without properties), 3.9 (SUBACK, granted QoS 1 for two filters). */
function answer({ type, body }: Packet): void {
  if (type === types.connect) socket?.write(Buffer.from([0x20, 3, 0, 0, 0]));
  if (type === types.subscribe) socket?.write(Buffer.from([0x90, 5, body[0] as number, body[1] as number, 0, 1, 1]));
}

/** Source: MQTT 5.0, 3.3: PUBLISH at QoS 1 with an empty list of properties. All packets here are below 128 bytes... */
function publish(id: number, topic: string, payload: string): void {
  const body = Buffer.concat([
    Buffer.from([0, topic.length]),
    Buffer.from(topic),
    Buffer.from([id >> 8, id & 255, 0]),
    Buffer.from(payload),
  ]);
  // ... or below 16 384: two bytes of length. Source: 1.5.5, variable byte integer.
  socket?.write(Buffer.concat([Buffer.from([0x32, (body.length & 127) | 128, body.length >> 7]), body]));
}

function take(bytes: Buffer): void {
  for (let at = 0; at < bytes.length; ) {
    const low = bytes[at + 1] as number;
    const isLong = low > 127;
    const length = isLong ? (low & 127) | ((bytes[at + 2] as number) << 7) : low;
    const start = at + (isLong ? 3 : 2);
    const packet = { type: (bytes[at] as number) >> 4, body: bytes.subarray(start, start + length) };
    received.push(packet);
    answer(packet);
    at = start + length;
  }
}

beforeEach(async () => {
  received.length = 0;
  server = createServer((connection) => {
    socket = connection;
    connection.on('data', take);
    connection.on('error', () => {});
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  intake = fakeIntake();
  mqtt = startMqttIntake({
    url: `mqtt://127.0.0.1:${(server.address() as AddressInfo).port}`,
    clientId: 'intake',
    shareGroup: 'warm',
    intake,
    logger: { info: () => {}, warn: () => {}, error: () => {} },
    now: () => 1_800_000_000_000,
    firstRetryMs: 5,
  });
  await vi.waitFor(() => expect(received.some(({ type }) => type === types.subscribe)).toBe(true));
});
afterEach(async () => {
  await mqtt.stop();
  socket?.destroy();
  await new Promise((resolve) => server.close(resolve));
});

const acks = () => received.filter(({ type }) => type === types.puback).map(({ body }) => [...body]);
const sample = JSON.stringify({ machineId: 'a', time: 1_770_000_000_000, values: { engineSpeedRpm: 900 } });

describe('MQTT 5.0', () => {
  it('asks for a session that outlives the connection, bounded in flight, and for shared topics', () => {
    const connect = received.find(({ type }) => type === types.connect)?.body as Buffer;
    // Source: 3.1.2: name, version 5, flags; clean start is bit 1 of the flags.
    expect(connect.subarray(0, 7)).toEqual(Buffer.from([0, 4, 0x4d, 0x51, 0x54, 0x54, 5]));
    expect((connect[7] as number) & 2).toBe(0);
    // Source: 3.1.2.11.2 session expiry interval (0x11), 3.1.2.11.3 receive maximum (0x21).
    expect(connect.includes(Buffer.from([0x11, 0, 9, 0x3a, 0x80]))).toBe(true);
    expect(connect.includes(Buffer.from([0x21, 0, 200]))).toBe(true);
    const subscribe = received.find(({ type }) => type === types.subscribe)?.body as Buffer;
    expect(subscribe.includes('$share/warm/machines/+/samples')).toBe(true);
    expect(subscribe.includes('$share/warm/machines/+/faults')).toBe(true);
  });

  // Source: 3.4.2.1: 0x00 success (may be left out), 0x83 implementation specific error, 0x99 payload format invalid.
  it('acknowledges with a reason, after the commit', async () => {
    let commit = () => {};
    intake.after = () =>
      new Promise<void>((resolve) => {
        commit = resolve;
      });
    publish(7, 'machines/a/samples', sample);
    await vi.waitFor(() => expect(intake.values.size).toBe(1));
    await new Promise((resolve) => setTimeout(resolve, 40));
    expect(acks()).toEqual([]);
    commit();
    await vi.waitFor(() => expect(acks()).toHaveLength(1));
    intake.after = () => {};
    publish(8, 'machines/a/samples', 'poison');
    publish(9, 'machines/b/samples', sample);
    intake.before = () => {
      throw new TypeError('a bug');
    };
    await vi.waitFor(() => expect(acks()).toHaveLength(3));
    publish(300, 'machines/a/samples', sample);
    await vi.waitFor(() => expect(acks()).toHaveLength(4));
    expect(acks().map(([high = 0, low = 0, reason = 0]) => [high * 256 + low, reason])).toEqual([
      [7, 0x00],
      [8, 0x99],
      [9, 0x99],
      [300, 0x83],
    ]);
    expect(mqtt.stats().rejects).toEqual({ 'bad-json': 1, 'machine-mismatch': 1, refused: 1 });
  });

  it('does not acknowledge while the store is away', async () => {
    let isAway = true;
    intake.before = () => {
      if (isAway) throw away();
    };
    publish(1, 'machines/a/samples', sample);
    await vi.waitFor(() => expect(mqtt.stats().retries).toBeGreaterThan(2));
    expect(acks()).toEqual([]);
    isAway = false;
    await vi.waitFor(() => expect(acks()).toHaveLength(1));
  });
});
