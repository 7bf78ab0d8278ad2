/** The fast way to read packets against the slow one: they must agree on every message, rejects included. */

import { channelNames } from '@warmbrick/signals';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
// Past the index: users see the two ways as one.
import { decodeSampleMessage, parseSampleMessage } from '../../libs/contracts/src/decode-sample-message.js';
import { scanPacket } from '../../libs/contracts/src/scan-packet.js';

const startMs = Date.UTC(2026, 2, 10, 6);
const arrivalMs = startMs + 7_200_000;
const bytes = (text: string) => new TextEncoder().encode(text);

/** Both ways on one message; true when the fast one read it. */
function agree(payload: Uint8Array): boolean {
  const slow = parseSampleMessage(payload, arrivalMs);
  const fast = scanPacket(payload, arrivalMs);
  if (fast !== null) expect(fast).toStrictEqual(slow);
  expect(decodeSampleMessage(payload, arrivalMs)).toStrictEqual(slow);
  return fast !== null;
}

/** Numbers as senders write them: short decimals mostly, and whatever else JSON allows. */
const numberText = fc.oneof(
  { weight: 60, arbitrary: fc.integer({ min: -40_000, max: 400_000 }).map((n) => JSON.stringify(n / 8)) },
  { weight: 20, arbitrary: fc.integer({ min: 0, max: 9000 }).map((n) => JSON.stringify(Math.fround(n * 0.05))) },
  { weight: 2, arbitrary: fc.double({ min: -1e4, max: 1e4, noNaN: true }).map((n) => JSON.stringify(n)) },
  { weight: 1, arbitrary: fc.double({ noNaN: true, noDefaultInfinity: true }).map((n) => JSON.stringify(n)) },
  { weight: 3, arbitrary: fc.constantFrom('null', 'null', '-0', '0', '0.0', '-0.5', '1e3', '12E-2', '1.50') },
);
const oddText = fc.constantFrom('01', '-', '1.', '.5', '+1', 'nul', 'true', '"7"', '[1]', '{}', 'NaN', '', '1 2');

const packetText = fc
  .record({
    id: fc.oneof(fc.string({ minLength: 1, maxLength: 12 }), fc.constantFrom('m-1', 'ä', 'a"b', 'x'.repeat(100))),
    // Odd things are rare, or hardly a packet would be usual.
    steps: fc.oneof(
      fc.array(fc.constantFrom<number>(1000, 250, 60_000), { minLength: 1, maxLength: 12 }),
      fc.array(fc.constantFrom<number>(1000, 250, 0, -5000, 4e6, 0.5), { minLength: 1, maxLength: 12 }),
    ),
    names: fc.oneof(
      fc.subarray<string>([...channelNames], { minLength: 1, maxLength: 5 }),
      fc.subarray<string>([...channelNames.slice(0, 3), 'madeUpName', '__proto__'], { minLength: 0, maxLength: 5 }),
    ),
    isOdd: fc.boolean(),
    gap: fc.constantFrom('', '', ' ', '\n  ', '\t'),
    seed: fc.infiniteStream(fc.tuple(numberText, oddText, fc.nat(30))),
  })
  .map(({ id, steps, names, isOdd, gap, seed }) => {
    let timeMs = startMs;
    const timesOf = steps.map((step) => {
      timeMs += step;
      return JSON.stringify(timeMs);
    });
    const value = () => {
      const [usual, odd, dice] = seed.next().value as [string, string, number];
      return isOdd && dice === 0 ? odd : usual;
    };
    const columns = names.map((name) => `"${name}":${gap}[${timesOf.map(value).join(`,${gap}`)}]`);
    const list = `[${gap}${timesOf.join(`,${gap}`)}${gap}]`;
    return `{${gap}"machineId":${JSON.stringify(id)},"times":${list},${gap}"channels":{${columns.join(',')}${gap}}}`;
  });

describe('a packet read the fast way', () => {
  it('says the same as read the slow way, and usual packets are read so', () => {
    let fast = 0;
    let all = 0;
    fc.assert(
      fc.property(packetText, (text) => {
        all++;
        if (agree(bytes(text))) fast++;
      }),
      { numRuns: 2000 },
    );
    // About 0.12; of 2000 packets it lies above 0.1 mostly, not always.
    expect(fast / all).toBeGreaterThan(0.05);
    expect(fast / all).toBeLessThan(0.9);
  });

  it('and so do packets with bytes changed, left out, put in or cut off', () => {
    const change = fc.record({ at: fc.nat(), byte: fc.constantFrom(...bytes('0123456789.,-+eE[]{}":\\ nul\n\u00e9')) });
    fc.assert(
      fc.property(packetText, fc.array(change, { minLength: 1, maxLength: 3 }), fc.nat(3), (text, changes, kind) => {
        let changed = [...bytes(text)];
        for (const { at, byte } of changes) {
          const place = at % changed.length;
          if (kind === 0) changed[place] = byte;
          else if (kind === 1) changed.splice(place, 1);
          else if (kind === 2) changed.splice(place, 0, byte);
          else changed = changed.slice(0, place + 1);
        }
        agree(Uint8Array.from(changed));
      }),
      { numRuns: 3000 },
    );
  });

  it.each([
    ['the usual form', '"times":[1773122400000,1773122401000],"channels":{"engineSpeedRpm":[950.125,null]}', true],
    [
      'white space',
      '"times" : [ 1773122400000 , 1773122401000 ] , "channels" : { "engineSpeedRpm" : [ 1 , 2 ] }',
      true,
    ],
    [
      'more digits than a double has',
      '"times":[1773122400000],"channels":{"fuelRateLPerH":[2.1999999999999999999]}',
      true,
    ],
    ['as many for one', '"times":[1773122400000],"channels":{"fuelRateLPerH":[15.350000381469727]}', true],
    [
      'the middle between two values of a column',
      '"times":[1773122400000],"channels":{"engineSpeedRpm":[1.00000005960464477]}',
      false,
    ],
    ['a wide channel', '"times":[1773122400000],"channels":{"engineHours":[12345.65]}', true],
    ['an implausible value', '"times":[1773122400000],"channels":{"engineSpeedRpm":[99999]}', true],
    ['times as text', '"times":["2026-03-10T06:00:00Z"],"channels":{"engineSpeedRpm":[1]}', false],
    ['times that do not rise', '"times":[1773122401000,1773122400000],"channels":{"engineSpeedRpm":[1,2]}', false],
    ['a time of 1970', '"times":[1000],"channels":{"engineSpeedRpm":[1]}', false],
    ['a time of 2100', '"times":[4102444800000],"channels":{"engineSpeedRpm":[1]}', false],
    ['no channel', '"times":[1773122400000],"channels":{}', false],
    ['an unknown channel', '"times":[1773122400000],"channels":{"madeUp":[1]}', false],
    ['a channel twice', '"times":[1773122400000],"channels":{"engineSpeedRpm":[1],"engineSpeedRpm":[2]}', false],
    ['too few values', '"times":[1773122400000,1773122401000],"channels":{"engineSpeedRpm":[1]}', false],
    ['too many values', '"times":[1773122400000],"channels":{"engineSpeedRpm":[1,2]}', false],
    ['values beside', '"times":[1773122400000],"channels":{"engineSpeedRpm":[1]},"values":{"engineSpeedRpm":3}', false],
  ])('reads %s: the same, fast or not', (_, rest, isFast) => {
    expect(agree(bytes(`{"machineId":"m-1",${rest}}`))).toBe(isFast);
  });

  it('does not change what it gave before', () => {
    const text = (speed: number) =>
      bytes(`{"machineId":"m","times":[1773122400000],"channels":{"engineSpeedRpm":[${speed}]}}`);
    const first = scanPacket(text(800), arrivalMs);
    for (let n = 0; n < 20_000; n++) scanPacket(text(900), arrivalMs);
    expect(first?.block.channels.engineSpeedRpm?.[0]).toBe(800);
  });
});
