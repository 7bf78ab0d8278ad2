import { createTransportAssembler, maxAddressedPauseMs, maxBroadcastPauseMs, maxOpenTransfers } from '@warmbrick/j1939';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { assemble, broadcastFrames, bytes, frame, type TextFrame } from './frames.js';

const announce20 = '18ECFF50#20140003FF05F000';
const packets20 = ['18EBFF50#0101020304050607', '18EBFF50#0208090A0B0C0D0E', '18EBFF50#030F1011121314FF'] as const;
const addressed20 = ['1CECABAA#10140003FF05F000', ...packets20.map((packet) => packet.replace('18EBFF50', '1CEBABAA'))];
const payload20 = bytes('0102030405060708090A0B0C0D0E0F1011121314');

describe('transport assembler', () => {
  it('takes packets in any order and leaves the padding out', () => {
    const messages = assemble(createTransportAssembler(), [announce20, packets20[2], packets20[0], packets20[1]]);
    expect(messages.map((message) => message.payload)).toEqual([payload20]);
  });

  it('takes the later of two packets with the same number', () => {
    const spoiled = '18EBFF50#01FFFFFFFFFFFFFF';
    const messages = assemble(createTransportAssembler(), [announce20, spoiled, ...packets20]);
    expect(messages.map((message) => message.payload)).toEqual([payload20]);
  });

  it('takes packets 2 ms and 90 ms apart, as recorded buses send them', () => {
    for (const stepMs of [2, 90]) {
      expect(assemble(createTransportAssembler(), [announce20, ...packets20], stepMs)).toHaveLength(1);
    }
  });

  it.each([
    ['a broadcast', maxBroadcastPauseMs, [announce20, ...packets20]],
    ['an addressed transfer', maxAddressedPauseMs, addressed20],
  ])('gives %s up after a pause of more than %i ms', (_, pauseMs, frames) => {
    expect(assemble(createTransportAssembler(), frames, pauseMs)).toHaveLength(1);
    const late = createTransportAssembler();
    expect(assemble(late, frames, pauseMs + 1)).toHaveLength(0);
    expect(late.incomplete).toBe(1);
    expect(late.open).toBe(0);
  });

  // As in a recorded log that lost packet 1, and a second later the next announcement.
  it('does not mix two broadcasts when the announcement between them is lost', () => {
    const assembler = createTransportAssembler();
    const heard: [number, string][] = [
      [0, announce20],
      [120, packets20[1]],
      [1060, packets20[0]],
      [1120, packets20[2]],
    ];
    for (const [timeMs, text] of heard) {
      const { id, payload } = frame(text);
      expect(assembler.push(timeMs, 'can0', id, payload, payload.length)).toBeNull();
    }
    expect(assembler.incomplete).toBe(1);
  });

  it('is kept waiting by a clear-to-send of zero packets', () => {
    const assembler = createTransportAssembler();
    const messages = assemble(
      assembler,
      [addressed20[0] as string, '1CECAAAB#1100FFFFFF05F000', ...addressed20.slice(1)],
      maxAddressedPauseMs,
    );
    expect(messages).toMatchObject([{ sourceAddress: 0xaa, destinationAddress: 0xab, payload: payload20 }]);
  });

  it('replaces a transfer that is announced again', () => {
    const assembler = createTransportAssembler();
    const messages = assemble(assembler, [announce20, packets20[0], announce20, packets20[1], packets20[2]]);
    expect(messages).toEqual([]);
    expect(assembler.incomplete).toBe(1);
    expect(assembler.open).toBe(1);
    assembler.finish();
    expect(assembler.incomplete).toBe(2);
  });

  it('drops a transfer that the receiver aborts', () => {
    const assembler = createTransportAssembler();
    assemble(assembler, ['1CECABAA#10140003FF05F000', '1CECAAAB#FF03FFFFFF05F000']);
    expect([assembler.open, assembler.incomplete]).toEqual([0, 1]);
  });

  it.each([
    ['1786 bytes', '18ECFF50#20FA06FFFF05F000'],
    ['8 bytes', '18ECFF50#20080002FF05F000'],
    ['a packet count that does not fit', '18ECFF50#20140004FF05F000'],
  ])('refuses an announcement of %s', (_, announcement) => {
    const assembler = createTransportAssembler();
    expect(assemble(assembler, [announcement, ...packets20])).toEqual([]);
    expect([assembler.open, assembler.incomplete]).toEqual([0, 1]);
  });

  it('takes the largest message, 1785 bytes', () => {
    const payload = Uint8Array.from({ length: 1785 }, (_, i) => i % 251);
    expect(run(broadcastFrames(7, 65226, payload))).toEqual([[7, payload]]);
  });

  it('clears the destination out of an addressed group number', () => {
    const messages = assemble(createTransportAssembler(), [
      '1CECABAA#10140003FFABEF00',
      ...packets20.map((packet) => packet.replace('18EBFF50', '1CEBABAA')),
    ]);
    expect(messages.map((message) => message.pgn)).toEqual([0xef00]);
  });

  it('keeps a bounded number of transfers and drops the one silent for longest', () => {
    const assembler = createTransportAssembler();
    for (let i = 0; i <= maxOpenTransfers; i++) {
      const announcement = bytes('10140003FF05F000');
      assembler.push(i, 'can0', 0x1cec0000 | i, announcement, 8);
    }
    expect([assembler.open, assembler.incomplete]).toEqual([maxOpenTransfers, 1]);
  });

  it('law: transfers of two sources, interleaved in any way, both come out whole', () => {
    const payload = fc.uint8Array({ minLength: 9, maxLength: 60 });
    fc.assert(
      fc.property(payload, payload, fc.infiniteStream(fc.boolean()), (first, second, turns) => {
        const left = broadcastFrames(1, 65226, first);
        const right = broadcastFrames(2, 65227, second);
        const mixed: TextFrame[] = [];
        while (left.length > 0 || right.length > 0) {
          const takeLeft = right.length === 0 || (left.length > 0 && turns.next().value);
          mixed.push((takeLeft ? left.shift() : right.shift()) as TextFrame);
        }
        const got = new Map(run(mixed));
        expect(got).toEqual(
          new Map([
            [1, first],
            [2, second],
          ]),
        );
      }),
    );
  });

  it('law: the same source on two buses is two transfers', () => {
    fc.assert(
      fc.property(fc.uint8Array({ minLength: 9, maxLength: 40 }), (payload) => {
        const assembler = createTransportAssembler();
        const payloads = broadcastFrames(1, 65226, payload).flatMap(({ id, payload: packet }, i) =>
          ['can0', 'can1'].flatMap((bus) => assembler.push(i, bus, id, packet, 8)?.payload ?? []),
        );
        expect(payloads).toEqual([payload, payload]);
      }),
    );
  });
});

function run(frames: readonly TextFrame[]): [number, Uint8Array][] {
  const assembler = createTransportAssembler();
  return frames.flatMap(({ id, payload }, i): [number, Uint8Array][] => {
    const message = assembler.push(i, 'can0', id, payload, 8);
    return message ? [[message.sourceAddress, message.payload]] : [];
  });
}
