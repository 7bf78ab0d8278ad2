/** Messages that have come and are not acknowledged yet: bounded, worked in batches, acknowledged in order. */

import { setImmediate as breathe } from 'node:timers/promises';
import type { IPublishPacket } from 'mqtt';
import type { MessageOutcome, MqttMessage } from './take-messages.js';

export interface MessageDesk {
  /** Lays down a message; the callback, which asks for the next one, is held back while the desk is full. */
  put(packet: IPublishPacket, callback: (error?: Error) => void): void;
  /** Takes nothing more; resolves when the batch in work has come to its end. What waits is left to the broker. */
  close(): Promise<void>;
  isClosed(): boolean;
}

export interface MessageDeskOptions {
  readonly mostMessages: number;
  readonly take: (messages: readonly MqttMessage[]) => Promise<readonly MessageOutcome[]>;
  readonly acknowledge: (packetId: number, end: MessageOutcome['end']) => void;
  /** A batch did not come to its end; the desk is closed then. */
  readonly onFailure: (error: unknown) => void;
}

interface Held extends MqttMessage {
  /** Null for QoS 0, which is not acknowledged. */
  readonly packetId: number | null;
}

/** Bytes of payload held at most, unless one message alone has more. Source: engineering judgement. */
const mostBytes = 8 * 1024 * 1024;
/** Tells the library that a message is not acknowledged yet, and that it shall go on; it sends nothing then. */
const later = new Error('acknowledged later');

/** Makes an empty desk. Acknowledgements go out in the order of the messages. Source: MQTT 5.0, 4.6. */
export function createMessageDesk(options: MessageDeskOptions): MessageDesk {
  const waiting: Held[] = [];
  let heldMessages = 0;
  let heldBytes = 0;
  let goOn: (() => void) | null = null;
  let isClosed = false;
  let work: Promise<void> | null = null;

  const isFull = () => heldMessages >= options.mostMessages || heldBytes >= mostBytes;
  const workAll = async () => {
    // The other messages of the same piece of the stream come in this turn of the event loop.
    await breathe();
    while (waiting.length > 0 && !isClosed) {
      const batch = waiting.splice(0);
      const outcomes = await options.take(batch);
      for (const [at, { packetId, payload }] of batch.entries()) {
        if (packetId !== null) options.acknowledge(packetId, (outcomes[at] as MessageOutcome).end);
        heldMessages--;
        heldBytes -= payload.length;
      }
      if (isFull() || isClosed) continue;
      // Cleared first: the next message may come, and fill the desk, within this call.
      const next = goOn;
      goOn = null;
      next?.();
      await breathe();
    }
  };
  const startWork = () => {
    work ??= workAll()
      .catch((error: unknown) => {
        isClosed = true;
        options.onFailure(error);
      })
      .finally(() => {
        work = null;
        // What came between the last look and now.
        if (waiting.length > 0 && !isClosed) startWork();
      });
  };

  return {
    put(packet, callback) {
      // Never asked for more: the broker keeps it for the next connection.
      if (isClosed) return;
      const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload;
      const packetId = packet.qos > 0 ? (packet.messageId ?? null) : null;
      waiting.push({ topic: packet.topic, payload, packetId });
      heldMessages++;
      heldBytes += payload.length;
      const next = () => callback(packetId === null ? undefined : later);
      if (isFull()) goOn = next;
      else next();
      startWork();
    },
    async close() {
      isClosed = true;
      await work;
    },
    isClosed: () => isClosed,
  };
}
