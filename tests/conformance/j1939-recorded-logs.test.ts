/**
 * Whole logs of real machines, read where they are kept beside the project (or at WARMBRICK_FIELD_LOGS).
 * Source: TractorHacking/CAN-data (four tractor logs), SystemsCyber/Truck_Sentry (two truck logs), SystemsCyber/UTHP (bench);
 * all MIT. What is expected of them is the project's own reading.
 */

import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { createCanDecoder } from '@warmbrick/j1939';
import type { ChannelName, FaultReport, SampleBlock } from '@warmbrick/signals';
import { describe, expect, it } from 'vitest';
import { bytes } from '../j1939/frames.js';

const folder =
  process.env.WARMBRICK_FIELD_LOGS ?? fileURLToPath(new URL('../../../shared/field-logs/', import.meta.url));
const isPresent = existsSync(folder);
if (!isPresent) console.warn(`skipped: no recorded logs at ${folder}; set WARMBRICK_FIELD_LOGS to their folder`);

describe.skipIf(!isPresent)('recorded logs', () => {
  it('truck driving: the full set of aftertreatment channels', () => {
    const log = decode('truck-driving.log');
    expect(log.frames).toBe(19_957);
    expect(log.times).toEqual(Array.from({ length: 30 }, (_, i) => (i + 1) * 1000));
    // The published range of single readings is 1147-1786 rpm; a sample a second stays inside it.
    expectRange(log, 'engineSpeedRpm', 1147, 1786);
    expectRange(log, 'scrInletTempC', 200, 300);
    expectRange(log, 'scrOutletTempC', 200, 300);
    expectRange(log, 'dpfInletTempC', 200, 350);
    expectRange(log, 'noxInPpm', 50, 1500);
    expectRange(log, 'noxOutPpm', -20, 100);
    expectRange(log, 'defLevelPct', 60, 60);
    expectRange(log, 'engineHours', 7755, 7756);
    expect(log.incompleteTransfers).toBe(0);
    const engine = log.faults.filter((report) => report.sourceAddress === 0);
    expect(engine[0]?.codes.map(({ spn, fmi }) => [spn, fmi])).toEqual([
      [191, 9],
      [84, 9],
      [5357, 31],
    ]);
  });

  it('truck idling under a flood of requests: idle speed, and no NOx from a sensor that says it is not ready', () => {
    const log = decode('truck-idle-request-flood.log');
    expect(log.times.length).toBeGreaterThan(20);
    expectRange(log, 'engineSpeedRpm', 718, 731);
    expect(log.columns.has('noxInPpm')).toBe(true);
    expect(log.columns.has('noxOutPpm')).toBe(false);
    expect(log.lateFrames).toBe(0);
  });

  it.each([
    ['tractor-key-on-idle.csv', 0, 0],
    ['tractor-cold-start.csv', 0, 1100],
    ['tractor-high-rpm.csv', 0, 1300],
  ])('%s: %i-%i rpm, an engine without SCR', (name, lowRpm, highRpm) => {
    const log = decode(name);
    expect(log.times.length).toBeGreaterThan(8);
    expectRange(log, 'engineSpeedRpm', lowRpm, highRpm);
    expectRange(log, 'coolantTempC', -10, 110);
    expect(log.columns.has('scrInletTempC')).toBe(false);
    expect(log.columns.has('defLevelPct')).toBe(false);
  });

  it('tractor that does not start: the engine never runs', () => {
    expectRange(decode('tractor-no-start.csv'), 'engineSpeedRpm', 0, 400);
  });

  it('bench of many controllers: fault lists by transport protocol, parameter numbers of 19 bits', () => {
    const log = decode('bench-many-ecus.log');
    expect(log.frames).toBe(35_876);
    const lists = log.faults.map(({ sourceAddress, codes }) => [
      sourceAddress,
      codes.map(({ spn, fmi }) => [spn, fmi]),
    ]);
    // Address 0 sends a list of 5 codes by broadcast; the single frames of the others are readable by eye in the log.
    expect(new Map(lists as [number, number[][]][])).toEqual(
      new Map([
        [
          0,
          [
            [111, 4],
            [1483, 2],
            [1483, 12],
            [520222, 12],
            [625, 8],
          ],
        ],
        [23, []],
        [37, [[524232, 31]]],
        [152, [[273406, 31]]],
      ]),
    );
    // The logger lost packets of some of the 20 broadcasts.
    expect(log.incompleteTransfers).toBeGreaterThan(0);
    expect(log.incompleteTransfers).toBeLessThan(8);
  });
});

interface Log {
  readonly times: number[];
  readonly columns: Map<string, number[]>;
  readonly faults: FaultReport[];
  readonly frames: number;
  readonly lateFrames: number;
  readonly incompleteTransfers: number;
}

function decode(name: string): Log {
  const decoder = createCanDecoder({ machineId: 'recorded' });
  for (const line of readFileSync(new URL(name, `file://${folder.replace(/\/?$/, '/')}`), 'utf8').split('\n')) {
    const parsed = name.endsWith('.csv') ? parseCsv(line) : parseCandump(line);
    if (parsed) decoder.push(parsed.timeMs, parsed.bus, parsed.id, parsed.payload, parsed.payload.length);
  }
  decoder.finish();
  const block: SampleBlock | null = decoder.takeBlock();
  const { frames, lateFrames, incompleteTransfers } = decoder;
  return {
    times: [...(block?.timeMs ?? [])],
    columns: new Map(Object.entries(block?.channels ?? {}).map(([channel, column]) => [channel, [...column]])),
    faults: decoder.takeFaults(),
    frames,
    lateFrames,
    incompleteTransfers,
  };
}

/** Both forms of candump: "(1.5) can0 0CF00400#FF7D" and "(1.5)  can0  0CF00400   [2]  FF 7D". */
function parseCandump(line: string) {
  const match = /^\s*\(([\d.]+)\)\s+(\S+)\s+([0-9A-F]{8})(?:#|\s+\[\d+\]\s+)([0-9A-F ]*)\s*$/i.exec(line);
  if (!match) return null;
  const [, time = '', bus = '', id = '', payload = ''] = match;
  return { timeMs: Number(time) * 1000, bus, id: Number.parseInt(id, 16), payload: bytes(payload) };
}

/** Columns: index, time in ms, group, priority, source, destination, payload, description. */
function parseCsv(line: string) {
  const [index = '', time = '', pgn = '', priority = '', source = '', destination = '', payload = ''] = line.split(',');
  if (!/^\d+$/.test(index)) return null;
  const group = Number(pgn);
  const isAddressed = ((group >> 8) & 255) < 240;
  const id = Number(priority) * 2 ** 26 + group * 256 + (isAddressed ? Number(destination) * 256 : 0) + Number(source);
  return { timeMs: Number(time), bus: 'can0', id, payload: bytes(payload) };
}

function expectRange(log: Log, channel: ChannelName, low: number, high: number): void {
  const values = (log.columns.get(channel) ?? []).filter((value) => value === value);
  expect(values.length, `samples of ${channel}`).toBeGreaterThan(0);
  expect(Math.min(...values), `lowest ${channel}`).toBeGreaterThanOrEqual(low);
  expect(Math.max(...values), `highest ${channel}`).toBeLessThanOrEqual(high);
}
