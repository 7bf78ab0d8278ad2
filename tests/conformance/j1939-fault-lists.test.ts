/**
 * Lists of fault codes from frames to the fault log: nothing is lost on the way.
 *
 * Sources: SAE J1939-73, 5.7.1 and -21 (layout of a code and of a broadcast) as open decoders use them; the broadcast of four
 * codes is the published check of pretty_j1939 (tests/test_diagnostic_messages.py); the recorded bench is SystemsCyber/UTHP (MIT),
 * read where it is kept beside the project (or at WARMBRICK_FIELD_LOGS).
 */

import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { type FaultEpisode, foldFaults, initialFaultLog } from '@warmbrick/analysis';
import { type CanDecoder, createCanDecoder } from '@warmbrick/j1939';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { broadcastFrames, bytes, pushText, type TextFrame } from '../j1939/frames.js';

const folder =
  process.env.WARMBRICK_FIELD_LOGS ?? fileURLToPath(new URL('../../../shared/field-logs/', import.meta.url));
const isPresent = existsSync(folder);
if (!isPresent) console.warn(`skipped: no recorded logs at ${folder}; set WARMBRICK_FIELD_LOGS to their folder`);

const activeFaultsPgn = 65226;
const startMs = Date.UTC(2026, 2, 2, 6);

interface Code {
  readonly spn: number;
  readonly fmi: number;
  readonly count: number;
}

/** Packs a list as the standard lays it out; lamps as amber on. Source: SAE J1939-73, 5.7.1, conversion method 0. */
function packed(codes: readonly Code[]): Uint8Array {
  const list = codes.flatMap(({ spn, fmi, count }) => [spn & 255, (spn >> 8) & 255, ((spn >> 16) << 5) | fmi, count]);
  return Uint8Array.from([0x04, 0xff, ...list]);
}

function logOf(decoder: CanDecoder): readonly FaultEpisode[] {
  decoder.finish();
  return foldFaults(initialFaultLog, decoder.takeFaults()).episodes;
}

const told = (episodes: readonly FaultEpisode[], sourceAddress: number) =>
  episodes
    .filter((episode) => episode.sourceAddress === sourceAddress)
    .map(({ spn, fmi, reportedCount }) => ({ spn, fmi, count: reportedCount }))
    .sort((a, b) => a.spn - b.spn || a.fmi - b.fmi);

describe('pretty_j1939: a broadcast of four codes', () => {
  it('becomes four episodes with their counts', () => {
    const decoder = createCanDecoder({ machineId: 'm' });
    const frames = [
      '18ECFF00#20120003FFCAFE00',
      '18EBFF00#0100FF5B0003015C',
      '18EBFF00#020004025D000503',
      '18EBFF00#035E000604FFFFFF',
    ];
    for (const [i, text] of frames.entries()) pushText(decoder, startMs + 3 * i, text);
    expect(told(logOf(decoder), 0)).toEqual([
      { spn: 91, fmi: 3, count: 1 },
      { spn: 92, fmi: 4, count: 2 },
      { spn: 93, fmi: 5, count: 3 },
      { spn: 94, fmi: 6, count: 4 },
    ]);
  });
});

/** Frames of several controllers dealt out in turn, as they share a bus. */
function interleaved(lists: readonly TextFrame[][]): TextFrame[] {
  const frames: TextFrame[] = [];
  for (let k = 0; lists.some((list) => k < list.length); k++) {
    for (const list of lists) if (list[k] !== undefined) frames.push(list[k] as TextFrame);
  }
  return frames;
}

describe('dozens of codes by broadcast', () => {
  // No recorded list at hand holds more than five codes, so these frames are built by the standard's layout.
  const codesOf = (length: number, fromSpn: number): Code[] =>
    Array.from({ length }, (_, k) => ({ spn: fromSpn + 7 * k, fmi: k % 22, count: k % 127 }));

  it.each([
    ['47 codes in 190 bytes, numbers of 19 bits among them', 47, 523_900],
    ['445 codes, as many as a transfer can hold', 445, 100_000],
  ])('%s', (_, length, fromSpn) => {
    const codes = codesOf(length, fromSpn);
    const payload = packed(codes);
    expect(payload.length).toBe(2 + 4 * length);
    const decoder = createCanDecoder({ machineId: 'm' });
    broadcastFrames(0, activeFaultsPgn, payload).forEach(({ id, payload: data }, i) => {
      decoder.push(startMs + 3 * i, 'can0', id, data, data.length);
    });
    expect(told(logOf(decoder), 0)).toEqual(codes);
  });

  it('from three controllers at the same time, each its own', () => {
    const lists = [0, 61, 23].map((address, k) => ({ address, codes: codesOf(30 + k, 1000 * (k + 1)) }));
    const decoder = createCanDecoder({ machineId: 'm' });
    const frames = interleaved(
      lists.map(({ address, codes }) => broadcastFrames(address, activeFaultsPgn, packed(codes))),
    );
    for (const [i, { id, payload }] of frames.entries()) {
      decoder.push(startMs + 3 * i, 'can0', id, payload, payload.length);
    }
    const episodes = logOf(decoder);
    for (const { address, codes } of lists) expect(told(episodes, address)).toEqual(codes);
    expect(episodes).toHaveLength(30 + 31 + 32);
  });

  it('law: any list of codes of one to a hundred comes through whole', () => {
    const code = fc.record({ spn: fc.integer({ min: 1, max: 524_286 }), fmi: fc.nat(31), count: fc.nat(126) });
    const list = fc.uniqueArray(code, { minLength: 2, maxLength: 100, selector: ({ spn, fmi }) => `${spn}/${fmi}` });
    fc.assert(
      fc.property(list, (codes) => {
        const decoder = createCanDecoder({ machineId: 'm' });
        broadcastFrames(3, activeFaultsPgn, packed(codes)).forEach(({ id, payload }, i) => {
          decoder.push(startMs + 3 * i, 'can0', id, payload, payload.length);
        });
        expect(told(logOf(decoder), 3)).toEqual([...codes].sort((a, b) => a.spn - b.spn || a.fmi - b.fmi));
      }),
    );
  });
});

describe.skipIf(!isPresent)('recorded logs through the fault log', () => {
  const episodesOf = (name: string): readonly FaultEpisode[] => {
    const decoder = createCanDecoder({ machineId: 'recorded' });
    for (const line of readFileSync(`${folder.replace(/\/?$/, '/')}${name}`, 'utf8').split('\n')) {
      const match = /^\s*\(([\d.]+)\)\s+(\S+)\s+([0-9A-F]{8})(?:#|\s+\[\d+\]\s+)([0-9A-F ]*)\s*$/i.exec(line);
      if (!match) continue;
      const [, time = '', bus = '', id = '', payload = ''] = match;
      const data = bytes(payload);
      // The driving truck's log counts from nought: put on a day that a clock can mean.
      const timeMs = Number(time) * 1000 + (Number(time) < 1e6 ? startMs : 0);
      decoder.push(timeMs, bus, Number.parseInt(id, 16), data, data.length);
    }
    return logOf(decoder);
  };

  it('bench of many controllers: every code of every list, broadcast or single, numbers of 19 bits', () => {
    const episodes = episodesOf('bench-many-ecus.log');
    const codes = episodes.map(({ sourceAddress, spn, fmi }) => `${sourceAddress}: ${spn}/${fmi}`).sort();
    expect(codes).toEqual([
      '0: 111/4',
      '0: 1483/12',
      '0: 1483/2',
      '0: 520222/12',
      '0: 625/8',
      '152: 273406/31',
      '37: 524232/31',
    ]);
    expect(
      episodes.every(({ endedMs, origin, occurrences }) => endedMs === null && origin === 'dm1' && occurrences === 1),
    ).toBe(true);
  });

  it('driving truck: the three codes of the engine, active to the end', () => {
    const engine = episodesOf('truck-driving.log').filter(({ sourceAddress }) => sourceAddress === 0);
    expect(engine.map(({ spn, fmi }) => `${spn}/${fmi}`).sort()).toEqual(['191/9', '5357/31', '84/9']);
    expect(engine.every(({ endedMs }) => endedMs === null)).toBe(true);
  });
});
