/** Transfers of several frames that lie in more than one message. */

import { type DecodedFrames, decodeSampleMessage } from '@warmbrick/contracts';
import { describe, expect, it } from 'vitest';
// Past the index: ways in use it, and none of them shows a message's parts.
import { createFrameTails } from '../../services/ingest/src/messages/frame-tails.js';
import { framesToSamples } from '../../services/ingest/src/messages/frames-to-samples.js';

const atMs = Date.UTC(2026, 2, 10, 6);

/**
 * DM1 of three codes as a broadcast of two packets, 50 ms apart, with an engine speed between.
 * Source of the form: SAE J1939-21 (announcement 32, size, packets, group) and J1939-73 (lamps, then four bytes a code).
 */
const frames = [
  ['18ECFF00', '200E0002FFCAFE00'],
  ['0CF00400', 'FFFFFF401FFFFFFF'],
  ['18EBFF00', '0104FF900C0401B4'],
  ['18EBFF00', '020C0502A10C0701'],
].map(([id, data], i) => ({ time: atMs + 50 * i, id, data }));

function messageOf(part: typeof frames, bus = 'can0'): DecodedFrames {
  const text = JSON.stringify({ machineId: 'loader-01', bus, frames: part });
  const message = decodeSampleMessage(new TextEncoder().encode(text), atMs + 60_000);
  if (message.form !== 'frames') throw new Error('not a message of frames');
  return message;
}

const codesOf = (parts: readonly DecodedFrames[]) => {
  const tails = createFrameTails();
  const decoded = parts.map((part) => framesToSamples(part, tails));
  return { codes: decoded.flatMap(({ reports }) => reports).map(({ codes }) => codes), decoded };
};

const whole = codesOf([messageOf(frames)]);

describe('a transfer that lies in several messages', () => {
  it('in one message has its three codes', () => {
    expect(whole.codes[0]?.map(({ spn, fmi }) => [spn, fmi])).toEqual([
      [3216, 4],
      [3252, 5],
      [3233, 7],
    ]);
  });

  it.each([1, 2, 3])('gives the same when it is broken off after frame %i', (at) => {
    const { codes, decoded } = codesOf([messageOf(frames.slice(0, at)), messageOf(frames.slice(at))]);
    expect(codes).toEqual(whole.codes);
    expect(decoded.map(({ isBrokenOff }) => isBrokenOff)).toEqual([true, false]);
  });

  it('gives the same in a message a frame, and is not given twice', () => {
    expect(codesOf(frames.map((frame) => messageOf([frame]))).codes).toEqual(whole.codes);
    expect(codesOf([messageOf(frames), messageOf(frames)]).codes).toEqual([...whole.codes, ...whole.codes]);
  });

  it('is not mixed with that of another bus, and is given up after a pause', () => {
    expect(codesOf([messageOf(frames.slice(0, 3)), messageOf(frames.slice(3), 'can1')]).codes).toEqual([]);
    const late = frames.slice(3).map((frame) => ({ ...frame, time: frame.time + 5000 }));
    expect(codesOf([messageOf(frames.slice(0, 3)), messageOf(late)]).codes).toEqual([]);
  });
});
