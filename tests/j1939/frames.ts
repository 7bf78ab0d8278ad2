/** Frames written as text, as loggers write them: identifier and payload in hexadecimal. */

import type { CanDecoder, TransportAssembler, TransportMessage } from '@warmbrick/j1939';

export interface TextFrame {
  readonly id: number;
  readonly payload: Uint8Array;
}

/** Reads "18FECA00#40FF5B000301FFFF"; spaces in the payload are ignored. */
export function frame(text: string): TextFrame {
  const [id = '', payload = ''] = text.split('#');
  return { id: Number.parseInt(id, 16), payload: bytes(payload) };
}

/** Reads hexadecimal bytes, with or without spaces. */
export function bytes(text: string): Uint8Array {
  const digits = text.replaceAll(' ', '');
  return Uint8Array.from({ length: digits.length / 2 }, (_, i) => Number.parseInt(digits.slice(2 * i, 2 * i + 2), 16));
}

/** Pushes one text frame on bus "can0" unless told otherwise. */
export function pushText(decoder: CanDecoder, timeMs: number, text: string, bus = 'can0'): void {
  const { id, payload } = frame(text);
  decoder.push(timeMs, bus, id, payload, payload.length);
}

/** Pushes text frames 3 ms apart and gives the messages that came out. */
export function assemble(assembler: TransportAssembler, texts: readonly string[], stepMs = 3): TransportMessage[] {
  return texts.flatMap((text, i) => {
    const { id, payload } = frame(text);
    const message = assembler.push(i * stepMs, 'can0', id, payload, payload.length);
    return message ? [message] : [];
  });
}

/** Frames of a broadcast transfer of `payload`, padded with FF. */
export function broadcastFrames(sourceAddress: number, pgn: number, payload: Uint8Array): TextFrame[] {
  const packets = Math.ceil(payload.length / 7);
  const announcement = Uint8Array.of(
    32,
    payload.length & 255,
    payload.length >> 8,
    packets,
    255,
    pgn & 255,
    (pgn >> 8) & 255,
    pgn >> 16,
  );
  const frames: TextFrame[] = [{ id: 0x18ecff00 + sourceAddress, payload: announcement }];
  for (let p = 0; p < packets; p++) {
    const packet = new Uint8Array(8).fill(255);
    packet[0] = p + 1;
    packet.set(payload.subarray(7 * p, 7 * p + 7), 1);
    frames.push({ id: 0x18ebff00 + sourceAddress, payload: packet });
  }
  return frames;
}
