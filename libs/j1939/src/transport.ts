/** The transport protocol heard from outside: messages of 9 to 1785 bytes put together from their packets. */

import { firstBroadcastFormat, globalAddress } from './can-id.js';

/** Group of connection management frames. Source: SAE J1939-21; Linux kernel net/can/j1939/transport.c. */
export const connectionPgn = 0xec00;
/** Group of data packets. Source: SAE J1939-21; Linux kernel net/can/j1939/transport.c. */
export const packetPgn = 0xeb00;
/** Largest message, bytes: 255 packets of 7. Source: SAE J1939-21. */
export const maxMessageBytes = 1785;
/**
 * Longest pause inside a broadcast, ms: T1. Not longer, even for loggers that are slow: fault lists come every second, and
 * a recorded log that lost an announcement would have its packets mixed into the list before.
 * Source: SAE J1939-21, as used by python-can-j1939 and AgIsoStack++.
 */
export const maxBroadcastPauseMs = 750;
/** Longest pause inside an addressed transfer, ms: T2 and T3. Source: as above. */
export const maxAddressedPauseMs = 1250;
/** Transfers open at once; past it the one silent for longest is dropped. Source: engineering judgement. */
export const maxOpenTransfers = 512;

/** Smallest message worth a transfer, bytes. Source: SAE J1939-21. */
const minMessageBytes = 9;
/** Message bytes in a packet. Source: SAE J1939-21. */
const packetBytes = 7;
/** Different bus names told apart; later ones share one key. Source: engineering judgement. */
const maxBuses = 64;
/** First bytes of connection management frames. Source: SAE J1939-21; Linux kernel net/can/j1939/transport.c. */
const control = { requestToSend: 16, clearToSend: 17, broadcast: 32, abort: 255 } as const;

export interface TransportMessage {
  readonly pgn: number;
  readonly sourceAddress: number;
  readonly destinationAddress: number;
  /** The announced number of bytes, without padding. */
  readonly payload: Uint8Array;
}

export interface TransportAssembler {
  /** Takes a frame of `connectionPgn` or `packetPgn`; gives the message that it completes, else null. */
  push(timeMs: number, bus: string, id: number, data: Uint8Array, length: number): TransportMessage | null;
  /** Gives up every open transfer. */
  finish(): void;
  /** Transfers announced that gave no message: timed out, aborted, replaced, malformed or still open at the end. */
  readonly incomplete: number;
  readonly open: number;
}

/**
 * Puts messages together for a listener that only hears.
 *
 * Packets may come in any order, at any pace up to the longest pause, and twice (the later one counts). Transfers are told
 * apart by bus, source and destination, so broadcasts, addressed transfers and buses may interleave; a new announcement
 * of the same pair replaces the old one.
 * Range: announcements of more than `maxMessageBytes` or with a wrong packet count are refused and counted.
 * Errors: none; a packet without a transfer, or outside it, is ignored.
 * Source: SAE J1939-21; Linux kernel net/can/j1939/transport.c; AgIsoStack++. The larger messages of the extended
 * protocol (PGN 51200) are not read.
 */
export function createTransportAssembler(): TransportAssembler {
  return new Assembler();
}

interface Transfer {
  readonly pgn: number;
  readonly size: number;
  readonly packets: number;
  readonly bytes: Uint8Array;
  readonly received: Uint8Array;
  readonly maxPauseMs: number;
  missing: number;
  lastMs: number;
}

class Assembler implements TransportAssembler {
  incomplete = 0;
  readonly #transfers = new Map<number, Transfer>();
  readonly #busNumbers = new Map<string, number>();

  get open(): number {
    return this.#transfers.size;
  }

  push(timeMs: number, bus: string, id: number, data: Uint8Array, length: number): TransportMessage | null {
    const busNumber = this.#busNumber(bus);
    const sourceAddress = id & 0xff;
    const destinationAddress = (id >>> 8) & 0xff;
    const key = (busNumber << 16) | (sourceAddress << 8) | destinationAddress;
    const usable = Math.max(0, Math.min(Math.trunc(length) || 0, data.length));
    if (((id >>> 16) & 0xff) === packetPgn >>> 8) {
      const done = this.#takePacket(key, timeMs, data, usable);
      return done && { pgn: done.pgn, sourceAddress, destinationAddress, payload: done.bytes };
    }
    if (usable < 8) return null;
    const answeredKey = (busNumber << 16) | (destinationAddress << 8) | sourceAddress;
    const first = data[0];
    if (first === control.broadcast || first === control.requestToSend) this.#announce(key, timeMs, data);
    else if (first === control.clearToSend) this.#keepOpen(answeredKey, timeMs);
    else if (first === control.abort) this.#abort(key, answeredKey, pgnIn(data));
    return null;
  }

  finish(): void {
    this.incomplete += this.#transfers.size;
    this.#transfers.clear();
  }

  #announce(key: number, timeMs: number, data: Uint8Array): void {
    this.#drop(key);
    const size = (data[1] as number) | ((data[2] as number) << 8);
    const packets = data[3] as number;
    if (size < minMessageBytes || size > maxMessageBytes || packets !== Math.ceil(size / packetBytes)) {
      this.incomplete++;
      return;
    }
    if (this.#transfers.size >= maxOpenTransfers) this.#makeRoom(timeMs);
    this.#transfers.set(key, {
      pgn: pgnIn(data),
      size,
      packets,
      bytes: new Uint8Array(size),
      received: new Uint8Array(packets),
      maxPauseMs: (key & 0xff) === globalAddress ? maxBroadcastPauseMs : maxAddressedPauseMs,
      missing: packets,
      lastMs: timeMs,
    });
  }

  #takePacket(key: number, timeMs: number, data: Uint8Array, usable: number): Transfer | null {
    const transfer = this.#transfers.get(key);
    if (!transfer) return null;
    if (timeMs - transfer.lastMs > transfer.maxPauseMs) {
      this.#drop(key);
      return null;
    }
    const at = usable > 0 ? (data[0] as number) - 1 : -1;
    if (at < 0 || at >= transfer.packets) return null;
    const offset = at * packetBytes;
    const wanted = Math.min(packetBytes, transfer.size - offset);
    if (usable - 1 < wanted) return null;
    for (let i = 0; i < wanted; i++) transfer.bytes[offset + i] = data[i + 1] as number;
    if (transfer.received[at] === 0) {
      transfer.received[at] = 1;
      transfer.missing--;
    }
    transfer.lastMs = Math.max(transfer.lastMs, timeMs);
    if (transfer.missing > 0) return null;
    this.#transfers.delete(key);
    return transfer;
  }

  /** A receiver may hold a connection open while it is busy. */
  #keepOpen(key: number, timeMs: number): void {
    const transfer = this.#transfers.get(key);
    if (transfer && timeMs - transfer.lastMs <= transfer.maxPauseMs)
      transfer.lastMs = Math.max(transfer.lastMs, timeMs);
  }

  /** Either side may abort; the group number says which transfer is meant. */
  #abort(key: number, answeredKey: number, pgn: number): void {
    if (this.#transfers.get(key)?.pgn === pgn) this.#drop(key);
    if (this.#transfers.get(answeredKey)?.pgn === pgn) this.#drop(answeredKey);
  }

  #drop(key: number): void {
    if (this.#transfers.delete(key)) this.incomplete++;
  }

  #makeRoom(timeMs: number): void {
    let oldestKey = -1;
    let oldestMs = Number.POSITIVE_INFINITY;
    for (const [key, transfer] of this.#transfers) {
      if (timeMs - transfer.lastMs > transfer.maxPauseMs) this.#drop(key);
      else if (transfer.lastMs < oldestMs) {
        oldestMs = transfer.lastMs;
        oldestKey = key;
      }
    }
    if (this.#transfers.size >= maxOpenTransfers) this.#drop(oldestKey);
  }

  #busNumber(bus: string): number {
    const known = this.#busNumbers.get(bus);
    if (known !== undefined) return known;
    if (this.#busNumbers.size >= maxBuses) return maxBuses;
    const next = this.#busNumbers.size;
    this.#busNumbers.set(bus, next);
    return next;
  }
}

/** Bytes 6-8 hold the group number, low byte first; the low byte of an addressed group is a destination, not part of it. */
function pgnIn(data: Uint8Array): number {
  const pgn = (data[5] as number) | ((data[6] as number) << 8) | (((data[7] as number) & 3) << 16);
  return (data[6] as number) < firstBroadcastFormat ? pgn & 0x3ff00 : pgn;
}
