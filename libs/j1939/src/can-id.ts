/** The 29-bit identifier of a CAN frame, taken apart. */

export interface CanId {
  /** 0 (highest) to 7. */
  readonly priority: number;
  /** Parameter group number, 18 bits; the low byte is 0 when the frame has a destination. */
  readonly pgn: number;
  readonly sourceAddress: number;
  /** 255 when the frame is for everyone. */
  readonly destinationAddress: number;
}

/** Address that means everyone. Source: SAE J1939-21; Linux kernel documentation, networking/j1939. */
export const globalAddress = 255;

/**
 * First PDU format whose second byte belongs to the group number and not to a destination.
 * Source: SAE J1939-21; Linux kernel documentation, networking/j1939, "PGN".
 */
export const firstBroadcastFormat = 240;

/**
 * Takes a 29-bit identifier apart.
 *
 * Range: bits above the 29th (flags that some loggers put there) are ignored.
 * Source: SAE J1939-21; Linux kernel documentation, networking/j1939, "PGN".
 * Example: 0x0CF00400 is priority 3, PGN 61444, from address 0 to everyone.
 */
export function parseCanId(id: number): CanId {
  const pduFormat = (id >>> 16) & 0xff;
  const isAddressed = pduFormat < firstBroadcastFormat;
  return {
    priority: (id >>> 26) & 7,
    pgn: pgnOfId(id),
    sourceAddress: id & 0xff,
    destinationAddress: isAddressed ? (id >>> 8) & 0xff : globalAddress,
  };
}

/** The parameter group number alone, without an object; for the loop over frames. */
export function pgnOfId(id: number): number {
  return ((id >>> 16) & 0xff) < firstBroadcastFormat ? (id >>> 8) & 0x3ff00 : (id >>> 8) & 0x3ffff;
}
