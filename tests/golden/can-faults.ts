/** Fault reports as the frames of a CAN log: DM1 and DM2, alone or in a broadcast transfer. */

import type { FaultReport, LampState } from '@warmbrick/signals';

/** Source: SAE J1939-73: DM1 65226, DM2 65227; SAE J1939-21: TP.CM 60416, TP.DT 60160, control byte 32 announces a broadcast. */
const pgns = { active: 0xfeca, 'previously-active': 0xfecb, announce: 0xecff, data: 0xebff } as const;
const announceBroadcast = 32;
const bytesPerFrame = 7;
/** Source: SAE J1939-21, 5.10.3: frames of a broadcast are 50 to 200 ms apart. */
const frameGapMs = 50;
/** Priorities: 6 for the message, 7 for transfers. Source: SAE J1939-73 and J1939-21. */
const priority = { message: 6, transfer: 7 };
/** Two bits a lamp. Source: SAE J1939-73, 5.7.1: 0 off, 1 on, 2 reserved, 3 not available. */
const lampBits: Readonly<Record<LampState, number>> = { off: 0, on: 1, reserved: 2, unavailable: 3 };

/** The log, in order of time; each report is told at its own time. */
export function candump(reports: readonly FaultReport[]): string {
  const lines = [...reports].sort((a, b) => a.timeMs - b.timeMs).flatMap(framesOf);
  return `${lines.join('\n')}\n`;
}

function framesOf(report: FaultReport): string[] {
  const payload = payloadOf(report);
  const pgn = pgns[report.kind];
  const { timeMs, sourceAddress } = report;
  if (payload.length <= 8) {
    return [line(timeMs, identifier(priority.message, pgn, sourceAddress), payload.concat(filler(8 - payload.length)))];
  }
  const frames = Math.ceil(payload.length / bytesPerFrame);
  const announced = [
    announceBroadcast,
    payload.length & 0xff,
    payload.length >> 8,
    frames,
    0xff,
    pgn & 0xff,
    (pgn >> 8) & 0xff,
    0,
  ];
  const startMs = timeMs - frames * frameGapMs;
  const rest = Array.from({ length: frames }, (_, i) => {
    const part = payload.slice(i * bytesPerFrame, (i + 1) * bytesPerFrame);
    const body = [i + 1, ...part, ...filler(bytesPerFrame - part.length)];
    return line(startMs + (i + 1) * frameGapMs, identifier(priority.transfer, pgns.data, sourceAddress), body);
  });
  return [line(startMs, identifier(priority.transfer, pgns.announce, sourceAddress), announced), ...rest];
}

/** Lamps, flash, then four bytes a code: SPN 19 bits, FMI 5 bits, count 7 bits, conversion bit. Source: SAE J1939-73, 5.7.1. */
function payloadOf({ lamps, flash, codes }: FaultReport): number[] {
  const { malfunction, redStop, amberWarning, protect } = lamps;
  const lampByte = [malfunction, redStop, amberWarning, protect].reduce(
    (byte, lamp) => (byte << 2) | lampBits[lamp],
    0,
  );
  const listed = codes.flatMap(({ spn, fmi, occurrenceCount, conversionMethod }) => [
    spn & 0xff,
    (spn >> 8) & 0xff,
    ((spn >> 16) << 5) | fmi,
    (conversionMethod << 7) | (occurrenceCount ?? 0x7f),
  ]);
  // No code is told as one code of zeros.
  return [lampByte, flash, ...(listed.length === 0 ? [0, 0, 0, 0] : listed)];
}

function identifier(priorityBits: number, pgn: number, sourceAddress: number): number {
  return priorityBits * 0x4000000 + pgn * 0x100 + sourceAddress;
}

function line(timeMs: number, id: number, body: readonly number[]): string {
  const hex = (value: number, digits: number) => value.toString(16).toUpperCase().padStart(digits, '0');
  return `(${(timeMs / 1000).toFixed(6)}) can0 ${hex(id, 8)}#${body.map((byte) => hex(byte, 2)).join('')}`;
}

function filler(count: number): number[] {
  return new Array<number>(count).fill(0xff);
}
