/** `warmbrick handover` and `warmbrick faults`: from recorded logs to a sheet, with nothing lost on the way. */

import { chmodSync, existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { faultListSchema, handoverSchema } from '@warmbrick/contracts';
import { readInOrder } from '@warmbrick/recordings';
import { type FaultReport, machineProfileSchema } from '@warmbrick/signals';
import { openStore, startEmbeddedPostgres } from '@warmbrick/store';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { pdfText } from '../reports/pdf-text.js';
import { run } from './run.js';

const logs = process.env.WARMBRICK_FIELD_LOGS ?? fileURLToPath(new URL('../../../shared/field-logs/', import.meta.url));
const isPresent = existsSync(logs);
if (!isPresent) console.warn(`skipped: no recorded logs at ${logs}; set WARMBRICK_FIELD_LOGS to their folder`);
const recording = fileURLToPath(new URL('../../replay-data/light-duty-below-window/recording.csv', import.meta.url));

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-handover-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Every code of every list in a log, as the decoder gives them. */
async function codesOf(path: string): Promise<Set<string>> {
  const codes = new Set<string>();
  const take = (reports: readonly FaultReport[]) => {
    for (const { sourceAddress, codes: listed } of reports) {
      for (const { spn, fmi } of listed) codes.add(`${sourceAddress}/${spn}/${fmi}`);
    }
  };
  await readInOrder([path], {}, { block: () => {}, faults: take, restart: () => {} });
  return codes;
}

describe.skipIf(!isPresent)('recorded logs', () => {
  // Source of the log: SystemsCyber/UTHP, MIT; a bench of 19 source addresses with 19-bit SPNs.
  it('of a bench with many controllers come to a sheet with every code', async () => {
    const path = join(logs, 'bench-many-ecus.log');
    const expected = await codesOf(path);
    expect(expected.size).toBeGreaterThanOrEqual(7);
    expect(
      [...expected].some((code) => Number(code.split('/')[1]) > 0xffff),
      'an SPN of 19 bits',
    ).toBe(true);
    const out = join(folder, 'bench.json');
    const { exitCode } = await run('handover', path, '--format', 'json', '--out', out, '--quiet');
    expect(exitCode).toBe(0);
    const document = handoverSchema.parse(JSON.parse(readFileSync(out, 'utf8')));
    expect(new Set(document.codes.map(({ sourceAddress, spn, fmi }) => `${sourceAddress}/${spn}/${fmi}`))).toEqual(
      expected,
    );
    const listed = await run('faults', path, '--quiet');
    for (const code of expected) {
      const [, spn, fmi] = code.split('/');
      expect(listed.out).toContain(`SPN ${spn} FMI ${fmi}`);
    }
  });

  it('of a truck come to a PDF that names its codes, with the signals around them', async () => {
    const path = join(logs, 'truck-driving.log');
    const expected = await codesOf(path);
    const out = join(folder, 'truck.pdf');
    const made = ['--made-at', '2026-03-01T00:00:00Z', '--quiet'];
    expect((await run('handover', path, '--format', 'pdf', '--out', out, ...made)).exitCode).toBe(0);
    const { pages, count } = pdfText(readFileSync(out));
    expect(pages).toHaveLength(count);
    const text = pages.join('\n');
    for (const code of expected) {
      const [, spn, fmi] = code.split('/');
      expect(text).toContain(`SPN ${spn} FMI ${fmi}`);
    }
    expect(text).toContain('Signals around');
    expect(text).toContain('SCR inlet');
    const again = join(folder, 'truck-2.pdf');
    await run('handover', path, '--format', 'pdf', '--out', again, ...made);
    expect(Buffer.compare(readFileSync(out), readFileSync(again))).toBe(0);
  });
});

describe('warmbrick handover', () => {
  it('makes a page from a recording without any code, and hides the machine on request', async () => {
    const { exitCode, out } = await run('handover', recording, '--mask', 'Machine A', '--quiet');
    expect(exitCode).toBe(0);
    expect(out).toContain('Handover sheet: Machine A');
    expect(out).toContain('None is known of this machine.');
    const machineId = JSON.parse((await run('replay', recording, '--json')).out).machines[0].machineId;
    expect(out).not.toContain(machineId);
    expect((await run('handover', recording, '--quiet')).out).toContain(machineId);
  });

  it('keeps to the period', async () => {
    const whole = handoverSchema.parse(
      JSON.parse((await run('handover', recording, '--format', 'json', '--quiet')).out),
    );
    const middle = new Date((Date.parse(whole.period.from) + Date.parse(whole.period.to)) / 2).toISOString();
    const half = handoverSchema.parse(
      JSON.parse((await run('handover', recording, '--format', 'json', '--to', middle, '--quiet')).out),
    );
    expect(half.period.to).toBe(middle);
    expect(half.hours.residency?.runningS ?? 0).toBeLessThan(whole.hours.residency?.runningS ?? 0);
  });

  it('says what is wrong and what to do', async () => {
    const pdf = await run('handover', recording, '--format', 'pdf');
    expect(pdf.exitCode).toBe(2);
    expect(pdf.err).toContain('Name a file with --out');
    const piped = await run('handover', '-');
    expect(piped.err).toContain('standard input can be read only once');
    const nobody = await run('handover', recording, '--only', 'nobody', '--quiet');
    expect(nobody.exitCode).toBe(2);
    const unwritable = await run('handover', recording, '--out', join(folder, 'absent', 'x.html'), '--quiet');
    expect(unwritable.err).toContain('the sheet cannot be written');
    const folderless = await run('handover', 'x', '--stored', '--data-dir', join(folder, 'no-data'));
    expect(folderless.err).toContain('There is no data folder here');
  });
});

describe('from the store', () => {
  it('tells what the store has, and calls a masked machine the same each time', async () => {
    const dataDir = join(folder, 'data');
    chmodSync(folder, 0o755);
    const server = await startEmbeddedPostgres({ dataDir });
    const store = await openStore({ connectionString: server.connectionString });
    const machineId = 'dozer-7';
    await store.putMachine(machineId, machineProfileSchema.parse({ name: 'Dozer Seven', timeZone: 'UTC' }));
    const report: FaultReport = {
      machineId,
      timeMs: Date.UTC(2026, 2, 2, 6),
      sourceAddress: 0,
      kind: 'active',
      lamps: { malfunction: 'on', redStop: 'off', amberWarning: 'on', protect: 'off' },
      flash: 255,
      codes: [{ spn: 3364, fmi: 2, occurrenceCount: 4, conversionMethod: 0 }],
    };
    const nothing = { samples: [], findings: [], withdrawnFindingIds: [], rows: [], keptSnapshots: [] };
    await store.commit([{ machineId, ...nothing, faults: [report], summary: null, snapshot: null, rewoundToMs: null }]);
    const done = { id: 'r1', machineId, item: 'def-filter', atMs: report.timeMs + 3_600_000, engineHours: 812 };
    await store.addServiceRecords([{ ...done, note: 'wet', recordedBy: 'Aud', recordedMs: report.timeMs + 7_200_000 }]);
    await store.close();
    await server.stop();
    const period = ['--from', '2026-03-01T00:00:00Z', '--to', '2026-03-03T00:00:00Z'];
    const asked = ['handover', machineId, '--stored', '--data-dir', dataDir, '--format', 'json', ...period];
    const document = handoverSchema.parse(JSON.parse((await run(...asked)).out));
    expect(document.codes.map(({ spn, fmi, reportedCount }) => [spn, fmi, reportedCount])).toEqual([[3364, 2, 4]]);
    expect(document.limits).toContain('No signals of the machine were recorded, only codes.');
    expect(document.service).toMatchObject([{ what: 'def filter', engineHours: 812, by: 'Aud', note: 'wet' }]);
    const labels = [await run(...asked, '--mask'), await run(...asked, '--mask')].map(
      ({ out }) => JSON.parse(out).machine.label,
    );
    expect(labels[0]).toMatch(/^Machine [2-9A-Z]{5}$/);
    expect(labels[1]).toBe(labels[0]);
    const absent = await run('handover', 'nobody', '--stored', '--data-dir', dataDir);
    expect(absent.err).toContain('Nothing is stored of this machine');
  }, 120_000);
});

describe('warmbrick faults', () => {
  it('says so when there is none', async () => {
    const { exitCode, out } = await run('faults', recording, '--quiet');
    expect(exitCode).toBe(0);
    expect(out).toContain('no fault code was reported');
    const json = JSON.parse((await run('faults', recording, '--json', '--quiet')).out);
    expect(faultListSchema.shape.items.parse(json.faults)).toEqual([]);
  });
});
