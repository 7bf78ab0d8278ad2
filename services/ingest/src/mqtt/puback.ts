/** The packet that acknowledges a message of QoS 1. */

import type { MessageOutcome } from './take-messages.js';

/** Source: MQTT 5.0, 3.4.2.1: success, payload format invalid, implementation specific error. */
const reasonCodes: Readonly<Record<MessageOutcome['end'], number>> = { taken: 0x00, unusable: 0x99, refused: 0x83 };

/**
 * A PUBACK; version 4 of the protocol, which is MQTT 3.1.1, knows no reasons.
 *
 * Source: MQTT 3.1.1, 3.4; MQTT 5.0, 3.4: the reason 0 and an empty list of properties may be left out.
 */
export function pubackOf(packetId: number, end: MessageOutcome['end'], protocolVersion: 4 | 5): Buffer {
  const reason = reasonCodes[end];
  const head = [packetId >> 8, packetId & 0xff];
  const body = protocolVersion === 5 && reason !== 0 ? [...head, reason] : head;
  return Buffer.from([0x40, body.length, ...body]);
}
