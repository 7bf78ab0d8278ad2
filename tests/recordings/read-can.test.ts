import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { detectFormat, openFaultWriter } from '@warmbrick/recordings';
import { describe, expect, test } from 'vitest';
import { collectInOrder, testFile, testFolder } from './collected.js';

/** Engine speed 1000 rpm from address 0. Source: SAE J1939-71, SPN 190 in PGN 61444, bytes 4-5, 0.125 rpm per bit. */
const speedFrame = '0CF00400#FFFFFF401FFFFFFF';
const startMs = Date.UTC(2024, 5, 1, 6);

describe('candump', () => {
  test('is read in log form, with times of the epoch', async () => {
    const lines = [0, 0.5, 1, 1.5, 2].map((second) => `(${(startMs / 1000 + second).toFixed(6)}) can0 ${speedFrame}`);
    const read = await collectInOrder([testFile('excavator-3.log', `${lines.join('\n')}\n`)]);
    expect(read.report).toMatchObject({ formats: ['candump'], frames: 5, incompleteTransfers: 0 });
    expect(read.report.rejects.count).toBe(0);
    const own = read.content['excavator-3'];
    expect(own?.values.engineSpeedRpm?.every((rpm) => rpm === 1000)).toBe(true);
    expect(own?.timeMs.every((time) => time >= startMs && time <= startMs + 3000)).toBe(true);
  });

  test('is read in column form, with times from a given start', async () => {
    const lines = [0, 0.5, 1, 1.5, 2].map(
      (second) => ` (00${second.toFixed(6)})  can0  0CF00400   [8]  FF FF FF 40 1F FF FF FF`,
    );
    const read = await collectInOrder([testFile('x.log', `${lines.join('\n')}\n`)], {
      startMs,
      machineId: 'm',
      gridMs: 500,
    });
    expect(read.content.m?.values.engineSpeedRpm?.every((rpm) => rpm === 1000)).toBe(true);
    expect(read.content.m?.timeMs[0]).toBeGreaterThanOrEqual(startMs);
    expect((read.content.m?.timeMs[1] ?? 0) - (read.content.m?.timeMs[0] ?? 0)).toBe(500);
  });

  test('rejects what is no J1939 frame, with its place', async () => {
    const bad = [
      '(1.0) can0 123#00',
      '(1.0) can0 20000004#0000000000000000',
      '(1.0) can0 0CF00400#123',
      '(1.0) can0 0CF00400#001122334455667788',
      '(1.0) can0 0CF00400#R',
      'hello',
    ];
    const good = [0, 1, 2].map((second) => `(${second}.0) can0 ${speedFrame}`);
    const read = await collectInOrder([testFile('x.log', [...good, ...bad].join('\n'))]);
    expect(read.report.rejects.byReason).toEqual({ 'bad-frame': 6 });
    expect(read.report.rejects.examples.map(({ where }) => Number(where.split(' ').at(-1)))).toEqual([
      4, 5, 6, 7, 8, 9,
    ]);
    expect(read.report.frames).toBe(3);
  });
});

describe('CSV of CAN frames', () => {
  test('gives the frames that a candump of the same gives', async () => {
    // PGN 61444 is broadcast; PGN 0 (torque/speed control) is sent to address 0. Source: SAE J1939-21, 5.2.
    const csv = [
      ',time,pgn,priority,source,destination,data,description',
      ...[0, 500, 1000, 1500, 2000].map((ms, i) => `${i},${ms}.0,61444,3,0,255,FF FF FF 40 1F FF FF FF ,Engine`),
      '5,2000.0,0,3,3,0,FF FF FF FF FF FF FF FF ,"Control, of speed"',
    ].join('\r\n');
    const log = [0, 0.5, 1, 1.5, 2].map((second) => `(${second.toFixed(1)}) can0 ${speedFrame}`).join('\n');
    const read = await collectInOrder([testFile('a.csv', csv)], { machineId: 'm' });
    expect(read.report).toMatchObject({ formats: ['can-csv'], frames: 6 });
    expect(read.content).toEqual((await collectInOrder([testFile('a.log', log)], { machineId: 'm' })).content);
    expect(read.report.rejects.count).toBe(0);
  });
});

const folder =
  process.env.WARMBRICK_FIELD_LOGS ?? fileURLToPath(new URL('../../../shared/field-logs/', import.meta.url));
const hasLogs = existsSync(folder);
if (!hasLogs) console.warn(`skipped: no recorded field logs at ${folder}; set WARMBRICK_FIELD_LOGS to their folder`);

// Recorded logs of real machines, SOURCES.md beside them says where each was published.
describe.skipIf(!hasLogs)('recorded logs of real machines', () => {
  const path = (name: string): string => join(folder, name);

  test.each([
    ['bench-many-ecus.log', 'candump'],
    ['truck-driving.log', 'candump'],
    ['truck-idle-request-flood.log', 'candump'],
    ['tractor-key-on-idle.csv', 'can-csv'],
    ['tractor-cold-start.csv', 'can-csv'],
    ['tractor-high-rpm.csv', 'can-csv'],
    ['tractor-no-start.csv', 'can-csv'],
  ])('%s is read whole', async (name, format) => {
    const lines = readFileSync(path(name), 'utf8')
      .split('\n')
      .filter((line) => line.trim() !== '');
    expect(detectFormat(readFileSync(path(name)))).toBe(format);
    const read = await collectInOrder([path(name)], { startMs });
    expect(read.report.frames + read.report.rejects.count).toBe(lines.length - (format === 'can-csv' ? 1 : 0));
    expect(read.report.rejects.count).toBeLessThan(lines.length * 0.001);
    expect(read.report.samples).toBeGreaterThan(10);
    expect(read.report.wasSorted).toBe(true);
  });

  test('truck-driving.log holds 19 957 frames of 30 s with the whole aftertreatment set', async () => {
    // Source: the publisher's description beside the log.
    const read = await collectInOrder([path('truck-driving.log')], { startMs, machineId: 'truck' });
    expect(read.report.frames).toBe(19_957);
    const values = read.content.truck?.values ?? {};
    for (const channel of ['engineSpeedRpm', 'scrInletTempC', 'noxOutPpm', 'defLevelPct', 'dpfOutletTempC']) {
      expect(Object.keys(values), channel).toContain(channel);
    }
    expect(read.faults.length).toBeGreaterThan(0);
  });

  test('truck-idle-request-flood.log idles at 718-731 rpm in spite of the flood', async () => {
    // Source: the publisher's description beside the log.
    const read = await collectInOrder([path('truck-idle-request-flood.log')], { startMs, machineId: 'truck' });
    const speeds = (read.content.truck?.values.engineSpeedRpm ?? []).filter((rpm) => rpm !== null);
    expect(Math.min(...speeds)).toBeGreaterThanOrEqual(718);
    expect(Math.max(...speeds)).toBeLessThanOrEqual(731);
  });

  test('a log given twice gives its samples and faults once', async () => {
    const once = await collectInOrder([path('truck-driving.log')], { startMs, machineId: 'truck' });
    const twice = await collectInOrder([path('truck-driving.log'), path('truck-driving.log')], {
      startMs,
      machineId: 'truck',
    });
    expect(twice.restarts).toBe(1);
    expect(twice.content).toEqual(once.content);
    const order = (a: unknown, b: unknown): number => (JSON.stringify(a) < JSON.stringify(b) ? -1 : 1);
    expect([...twice.faults].sort(order)).toEqual([...once.faults].sort(order));
    expect(twice.report.duplicates).toBe(once.report.samples);
    expect(twice.report.conflicts).toBe(0);
  });

  test('fault codes are written as a table', async () => {
    const read = await collectInOrder([path('bench-many-ecus.log')], { machineId: 'bench' });
    const out = join(testFolder(), 'faults.csv');
    const writer = await openFaultWriter('csv', out);
    writer.faults(read.faults);
    const count = await writer.close();
    const lines = readFileSync(out, 'utf8').trimEnd().split('\n');
    expect(lines[0]).toBe('machineId,time,sourceAddress,kind,spn,fmi,occurrenceCount,conversionMethod,lamps');
    expect(lines.length - 1).toBe(count);
    expect(count).toBeGreaterThanOrEqual(read.faults.length);
    // The log was recorded on 2024-12-06. Source: its own times.
    for (const line of lines.slice(1))
      expect(line).toMatch(
        /^bench,2024-12-06T\d\d:\d\d:\d\d\.\d{3}Z,\d+,(previously-)?active,\d*,\d*,\d*,[01]?,[0-3]{4}$/,
      );
  });
});
