/** Fault log, derates, texts of a fleet and the handover sheet over HTTP, on a real PostgreSQL. */

import { builtInThresholds } from '@warmbrick/analysis';
import {
  derateDetailSchema,
  derateListSchema,
  faultListSchema,
  faultTextsSchema,
  handoverSchema,
} from '@warmbrick/contracts';
import { createIngest, startDerateInquirer } from '@warmbrick/ingest';
import { machineProfileSchema } from '@warmbrick/signals';
import { makeDerateCase } from '@warmbrick/simulator';
import type { Store } from '@warmbrick/store';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../store/postgres.js';
import { startTestApp, type TestApp } from './test-app.js';

let server: TestServer;
let store: Store;
let app: TestApp['app'];

const silent = { info() {}, warn() {}, error() {} };
/** Its soot code rises, and a derate follows. */
const one = makeDerateCase(1);
const machineId = 'sk-dozer-7';
const name = 'Dozer Seven';
const site = 'Skarnfell quarry';

async function settle(): Promise<void> {
  const inquirer = startDerateInquirer({ store, logger: silent, everyMs: 3_600_000 });
  await inquirer.settled();
  await inquirer.stop();
}

beforeAll(async () => {
  server = await startTestServer();
  store = await server.openOn(await server.freshDatabase());
  ({ app } = await startTestApp({ store }));
  const ingest = createIngest({ store, thresholds: builtInThresholds, logger: silent });
  await ingest.register(machineId, machineProfileSchema.parse({ ...one.profile, name, site, timeZone: 'Europe/Oslo' }));
  const reports = one.reports.map((report) => ({ ...report, machineId }));
  await ingest.accept([{ ...one.samples, machineId }], { reports, isRecorded: true });
  await ingest.close();
  await settle();
});
afterAll(async () => {
  await app?.close();
  await server.stop();
});

const get = async (url: string) => {
  const response = await app.inject({ method: 'GET', url: `/v1${url}` });
  return { status: response.statusCode, headers: response.headers, text: response.body, raw: response.rawPayload };
};
const json = async (url: string) => JSON.parse((await get(url)).text);
const send = async (method: 'POST' | 'PUT', url: string, payload: object) => {
  const response = await app.inject({ method, url: `/v1${url}`, payload });
  return { status: response.statusCode, body: response.json() };
};

describe('the fault log', () => {
  it('comes by occurrence, by time and by first time, page by page, in words', async () => {
    const whole = faultListSchema.parse(await json(`/machines/${machineId}/faults?sort=first`));
    expect(whole.items.length).toBeGreaterThan(3);
    const origin = one.truth.origins[0]?.codes[0];
    const line = whole.items.find(({ spn, fmi }) => spn === origin?.spn && fmi === origin?.fmi);
    // Source of the number: SAE J1939-71 as tabulated in the project's notes; 3719 is the soot load of the first filter.
    expect(line).toMatchObject({ spn: 3719, wordsFrom: 'standard', isConsequence: false, inducementClass: 'soot' });
    expect(line?.fmiWords).toBe('value high, moderately severe');
    expect(whole.items.some(({ isConsequence }) => isConsequence)).toBe(true);
    const codes: string[] = [];
    for (let cursor: string | null = ''; cursor !== null; ) {
      const page: { items: { code: string }[]; nextCursor: string | null } = await json(
        `/machines/${machineId}/faults?sort=first&limit=2${cursor === '' ? '' : `&cursor=${cursor}`}`,
      );
      codes.push(...page.items.map(({ code }) => code));
      cursor = page.nextCursor;
    }
    expect(codes).toEqual(whole.items.map(({ code }) => code));
    const byOccurrence = faultListSchema.parse(await json(`/machines/${machineId}/faults?sort=occurrence`)).items;
    const ranks = byOccurrence.map(({ occurrences, reportedCount }) => Math.max(occurrences, reportedCount ?? 0));
    expect(ranks).toEqual([...ranks].sort((a, b) => b - a));
  });

  it('takes codes typed by hand, once, and says who typed them', async () => {
    const body = {
      id: '0b9d2c8e-4b1f-4f0a-9a43-0f6f0a7a0001',
      at: '2026-02-02T06:00:00Z',
      spn: 520_300,
      fmi: 2,
      note: `seen on the display of ${name}`,
    };
    const made = await send('POST', `/machines/${machineId}/faults`, body);
    expect(made).toMatchObject({ status: 201, body: { spn: 520_300, what: 'occurred', typedBy: 'this computer' } });
    expect((await send('POST', `/machines/${machineId}/faults`, body)).status).toBe(200);
    const { items } = faultListSchema.parse(await json(`/machines/${machineId}/faults?spn=520300`));
    expect(items).toHaveLength(1);
    expect(items[0]).toMatchObject({ wordsFrom: 'maker-range', sourceAddress: null, occurrences: 1 });
    const future = await send('POST', `/machines/${machineId}/faults`, { ...body, at: '2090-01-01T00:00:00Z' });
    expect(future).toMatchObject({ status: 400, body: { errors: [{ path: 'body.at' }] } });
  });

  it('speaks the words of the fleet where it has its own', async () => {
    const items = [{ spn: 520_300, fmi: null, text: 'boom angle sensor', inducementClass: null, isDerateCode: false }];
    const put = await send('PUT', '/fault-texts', { items });
    expect(faultTextsSchema.parse(put.body).items).toMatchObject([
      { text: 'boom angle sensor', changedBy: 'this computer' },
    ]);
    expect((await json(`/machines/${machineId}/faults?spn=520300`)).items[0]).toMatchObject({
      spnWords: 'boom angle sensor',
      wordsFrom: 'fleet',
    });
    const twice = await send('PUT', '/fault-texts', { items: [...items, ...items] });
    expect(twice).toMatchObject({ status: 400, body: { detail: 'SPN 520300 FMI any is there twice.' } });
    expect((await json('/fault-texts')).items).toHaveLength(1);
  });

  it('says what it does not know', async () => {
    expect((await get('/machines/nobody/faults')).status).toBe(404);
    expect((await get('/machines/nobody/handover')).status).toBe(404);
    expect(JSON.parse((await get('/derates/nothing')).text).code).toBe('derate-not-found');
  });
});

describe('derates', () => {
  it('come with their origin, the evidence, the history and the clock', async () => {
    const { items } = derateListSchema.parse(await json(`/machines/${machineId}/derates`));
    expect(items.length).toBeGreaterThan(0);
    const derate = items.find(({ inquiry }) => inquiry?.verdict !== 'unknown');
    const detail = derateDetailSchema.parse(await json(`/derates/${encodeURIComponent(derate?.id ?? '')}`));
    const [first] = detail.inquiry?.origins ?? [];
    const codes = one.truth.origins.flatMap((origin) => origin.codes.map(({ spn }) => spn));
    expect(codes).toContain(first?.spn);
    expect(first?.evidence.length).toBeGreaterThan(1);
    expect(detail.inquiry?.origins.every(({ isConsequence }) => !isConsequence)).toBe(true);
    expect(detail.inquiry?.checkFirst.length).toBeGreaterThan(0);
    expect(detail.inquiry?.doNot.join(' ')).toMatch(/not|never/i);
    expect(detail.history.length).toBeGreaterThan(0);
    expect(detail.isWithdrawn).toBe(false);
  });
});

describe('the handover sheet', () => {
  const sheet = (query: string) =>
    get(`/machines/${machineId}/handover?from=2026-02-01T00:00:00Z&to=2026-03-01T00:00:00Z&${query}`);

  it('is a document of its schema, with every code and the derate', async () => {
    const answer = await sheet('format=json');
    expect(answer.headers['content-disposition']).toMatch(
      /^attachment; filename="handover-dozer-seven-2026-02-01-2026-03-01.json"$/,
    );
    const document = handoverSchema.parse(JSON.parse(answer.text));
    const { items } = faultListSchema.parse(await json(`/machines/${machineId}/faults?sort=first`));
    expect(document.codes.map(({ spn, fmi }) => `${spn}/${fmi}`)).toEqual(items.map(({ spn, fmi }) => `${spn}/${fmi}`));
    expect(document.derates.length).toBeGreaterThan(0);
    expect(document.codes.some(({ windows }) => windows.some(({ channels }) => channels.length > 3))).toBe(true);
    expect(document.inShort[0]).toContain('lost power');
    expect(document.machine).toMatchObject({ label: name, machineId, site });
  });

  it('comes as a page with no more than its own style, and as PDF and CSV to keep', async () => {
    const page = await sheet('format=html');
    expect(page.headers['content-type']).toContain('text/html');
    expect(page.headers['content-security-policy']).toMatch(/default-src 'none'; style-src 'sha256-/);
    expect(page.headers['content-disposition']).toMatch(/^inline/);
    expect(page.text).toContain(`Handover sheet: ${name}`);
    const pdf = await sheet('format=pdf');
    expect(pdf.headers['content-type']).toBe('application/pdf');
    expect(pdf.raw.subarray(0, 5).toString()).toBe('%PDF-');
    const csv = await sheet('format=csv');
    expect(csv.text.split('\r\n')[0]).toBe('section,number,from,to,spn,fmi,sourceAddress,what,name,value,unit');
  });

  it('has the service that was recorded in its period, also what was done after the last sample', async () => {
    const lastMs = one.samples.timeMs.at(-1) as number;
    const record = (id: string, item: string, atMs: number, note: string) => ({
      ...{ id, machineId, item, atMs, engineHours: 4210.5, note, recordedBy: 'Aud of the workshop', recordedMs: atMs },
    });
    const hourMs = 3_600_000;
    await store.addServiceRecords([
      record('r1', 'engine-oil', lastMs - hourMs, ''),
      record('r2', 'def-filter', lastMs + 5 * hourMs, 'housing was wet'),
      record('r3', 'air-filter', lastMs - 60 * 24 * hourMs, ''),
    ]);
    const usual = handoverSchema.parse(await json(`/machines/${machineId}/handover?format=json`));
    expect(usual.service?.map(({ what, by, note }) => [what, by, note])).toEqual([
      ['engine oil', 'Aud of the workshop', null],
      ['def filter', 'Aud of the workshop', 'housing was wet'],
    ]);
    expect(usual.service?.[0]).toMatchObject({ engineHours: 4210.5, at: new Date(lastMs - hourMs).toISOString() });
    const to = new Date(lastMs).toISOString();
    const before = await json(`/machines/${machineId}/handover?format=json&to=${to}`);
    expect(before.service.map(({ what }: { what: string }) => what)).toEqual(['engine oil']);
    const masked = await json(`/machines/${machineId}/handover?format=json&mask=true`);
    expect(masked.service).toMatchObject([
      { by: null, note: null },
      { by: null, note: null },
    ]);
    const page = await get(`/machines/${machineId}/handover?format=html`);
    expect(page.text).toContain('housing was wet');
  });

  it('tells nowhere which machine it is when asked not to', async () => {
    const labels = new Set<string>();
    for (const format of ['json', 'csv', 'html'] as const) {
      const answer = await sheet(`mask=true&format=${format}`);
      expect(answer.status).toBe(200);
      const everything = `${answer.text} ${JSON.stringify(answer.headers)}`.toLowerCase();
      for (const secret of [machineId, name, site, 'skarnfell', 'seven', 'oslo']) {
        expect(everything, `${format} tells "${secret}"`).not.toContain(secret.toLowerCase());
      }
      labels.add(/Machine [2-9A-Z]{5}/.exec(answer.text)?.[0] ?? 'none');
    }
    expect(labels.size).toBe(1);
    expect([...labels][0]).toMatch(/^Machine /);
  });
});
