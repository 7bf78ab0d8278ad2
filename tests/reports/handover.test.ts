/** The handover sheet: what it says, in every form, and what it does not say when masked. */

import { handoverSchema } from '@warmbrick/contracts';
import { buildHandover, neutralLabel, renderHandover } from '@warmbrick/reports';
import { describe, expect, it } from 'vitest';
import { pdfText } from './pdf-text.js';
import { machineId, profile, read, sampleInput, startMs } from './sample-input.js';

const sheet = () => buildHandover(sampleInput(), read);

describe('the document', () => {
  it('has every code with its times, the derate with its origin, and what was done', async () => {
    const document = handoverSchema.parse(await sheet());
    expect(document.codes.map(({ number, spn, fmi }) => [number, spn, fmi])).toEqual([
      ['C1', 1761, 17],
      ['C2', 5246, 16],
    ]);
    expect(document.codes[0]).toMatchObject({
      occurrences: 1,
      occurrencesInPeriod: 1,
      reportedCount: 3,
      isActive: true,
      isConsequence: false,
      firstAt: '2026-03-02T08:00:00.000Z',
    });
    expect(document.codes[1]?.isConsequence).toBe(true);
    const [derate] = document.derates;
    expect(derate?.startedAt).toBe('2026-03-02T12:00:00.000Z');
    // A derate code never counts as a cause: the origin is the tank, and it is the sheet's C1.
    expect(derate?.inquiry?.origins[0]).toMatchObject({ spn: 1761, code: 'C1', isOrigin: true });
    expect(derate?.inquiry?.origins.every(({ spn }) => spn !== 5246)).toBe(true);
    expect(document.service).toHaveLength(1);
    expect(document.limits).toEqual([]);
  });

  it('has the signals from ten minutes before a code to two after, every quarter of a minute', async () => {
    const document = await sheet();
    const [window] = document.codes[0]?.windows ?? [];
    expect(window).toMatchObject({ at: '2026-03-02T08:00:00.000Z', from: '2026-03-02T07:50:00.000Z', stepS: 15 });
    const level = window?.channels.find(({ channel }) => channel === 'defLevelPct');
    expect(level?.values).toHaveLength(49);
    // Known values: 12 - i/40 at minute i = 110 and 120, given to one decimal.
    expect(level?.values[0]).toBe(9.3);
    expect(level?.values[40]).toBe(9);
    expect(window?.channels.map(({ channel }) => channel)).toEqual([
      'engineSpeedRpm',
      'engineLoadPct',
      'scrInletTempC',
      'defLevelPct',
    ]);
  });

  it('says on top what happened, for somebody who was not there', async () => {
    const { inShort } = await sheet();
    expect(inShort[0]).toMatch(/^The machine lost power once.* It is still reduced at the end of the period\.$/);
    expect(inShort[1]).toContain('SPN 1761 FMI 17 (C1)');
    expect(inShort.join(' ')).toContain('2 fault codes are known of the machine, 2 of them from this period');
  });

  it('says when nothing was there', async () => {
    const empty = sampleInput({ faults: [], derates: [], notes: [], observed: null, service: null });
    const document = handoverSchema.parse(await buildHandover(empty, async () => []));
    expect(document.inShort[0]).toBe('No loss of power was seen in this period.');
    expect(document.limits).toEqual([
      'No record of service work was at hand.',
      'No signals of the machine were recorded, only codes.',
    ]);
    const { body } = await renderHandover(document, 'pdf');
    expect(pdfText(body as Uint8Array).pages.join('\n')).toContain('None is known of this machine.');
  });
});

describe('on paper', () => {
  it('is the same bytes for the same document, with the date it was given', async () => {
    const [one, two] = [await renderHandover(await sheet(), 'pdf'), await renderHandover(await sheet(), 'pdf')];
    expect(Buffer.compare(one.body as Uint8Array, two.body as Uint8Array)).toBe(0);
    expect(Buffer.from(one.body as Uint8Array).toString('latin1')).toContain('(D:20260303060000Z)');
    const later = await buildHandover(sampleInput({ madeAtMs: startMs }), read);
    expect(Buffer.compare(one.body as Uint8Array, (await renderHandover(later, 'pdf')).body as Uint8Array)).not.toBe(0);
  });

  it('numbers its pages and says the same as the page to print', async () => {
    const document = await sheet();
    const { pages, count } = pdfText((await renderHandover(document, 'pdf')).body as Uint8Array);
    expect(count).toBeGreaterThan(1);
    expect(pages).toHaveLength(count);
    for (const [at, text] of pages.entries()) expect(text).toContain(`page ${at + 1} of ${count}`);
    const paper = pages.join('\n').replace(/\s+/g, ' ');
    const html = String((await renderHandover(document, 'html')).body);
    // Headings and short sentences; long ones are broken into lines on paper.
    for (const text of ['In short', 'Loss of power', 'Fault codes', 'Check first', 'Service done', 'hot exhaust']) {
      expect(paper.toLowerCase(), `PDF says "${text}"`).toContain(text.toLowerCase());
      expect(html.toLowerCase(), `page says "${text}"`).toContain(text.toLowerCase());
    }
    expect(paper).toContain('Caution.');
    expect(paper).toContain('DEF tank level');
  });

  it('holds no markup of a name', async () => {
    const html = String((await renderHandover(await sheet(), 'html')).body);
    expect(html).not.toContain('<b>"1"');
    expect(html).toContain('Loader Three &#60;b&#62;&#34;1&#34;&#60;/b&#62;');
    expect(html).not.toMatch(/<script|onload=|javascript:|https?:\/\//i);
  });
});

describe('as a table', () => {
  it('has a row a fact, quoted as RFC 4180 wants, and no formula', async () => {
    const csv = String((await renderHandover(await sheet(), 'csv')).body);
    const lines = csv.split('\r\n');
    expect(lines.at(-1)).toBe('');
    // Source: RFC 4180, 2: fields with quotes are in quotes, and quotes in them are doubled.
    expect(csv).toContain('"Loader Three <b>""1""</b>"');
    expect(csv).toContain("'=1+1 lamp came on");
    const sections = new Set(lines.slice(1).map((line) => line.split(',')[0]));
    for (const section of [
      'sheet',
      'derate',
      'origin',
      'evidence-for',
      'check-first',
      'code',
      'occurrence',
      'signal',
      'service',
    ]) {
      expect(sections, section).toContain(section);
    }
  });
});

describe('masked', () => {
  it('tells in no form which machine it is', async () => {
    const label = neutralLabel(machineId, 'key');
    const document = handoverSchema.parse(await buildHandover(sampleInput({ maskLabel: label }), read));
    expect(document.machine).toMatchObject({ label, machineId: null, name: null, site: null });
    expect(document.timeZone).toBe('UTC');
    // Unmasked, the same reading of the PDF does find it.
    expect(pdfWhole((await renderHandover(await sheet(), 'pdf')).body as Uint8Array)).toContain('Skarnfell');
    for (const format of ['json', 'csv', 'html', 'pdf'] as const) {
      const { body, fileName } = await renderHandover(document, format);
      const text = format === 'pdf' ? pdfWhole(body as Uint8Array) : String(body);
      const everything = `${text} ${fileName}`.toLowerCase();
      expect(everything, format).toContain(label.toLowerCase());
      for (const secret of [machineId, 'Loader Three', 'three', 'Skarnfell', 'quarry', 'Aud', 'Oslo', 'lamp came on']) {
        expect(everything, `${format} tells "${secret}"`).not.toContain(secret.toLowerCase());
      }
    }
  });

  it('takes the name out of words that a fleet wrote, and keeps what kind of machine it is', async () => {
    const fleetTable = [
      {
        spn: 1761,
        fmi: null,
        text: 'tank of Loader Three at Skarnfell',
        inducementClass: 'level' as const,
        isDerateCode: false,
      },
    ];
    const document = await buildHandover(sampleInput({ maskLabel: 'Machine X', fleetTable }), read);
    const [code] = document.codes;
    expect(code?.spnWords).not.toMatch(/three|skarnfell/i);
    expect(document.machine.machineClass).toBe('wheel loader');
  });

  it('has a label that is always the same, and another for another machine or key', () => {
    expect(neutralLabel(machineId, 'key')).toBe(neutralLabel(machineId, 'key'));
    expect(neutralLabel(machineId, 'key')).not.toBe(neutralLabel('sk-loader-4', 'key'));
    expect(neutralLabel(machineId, 'key')).not.toBe(neutralLabel(machineId, 'other key'));
    expect(neutralLabel(machineId, 'key')).not.toContain(profile.name ?? '');
  });
});

/** Text of all pages and everything else that is readable in the file, such as its title. */
function pdfWhole(bytes: Uint8Array): string {
  const hexTexts = (
    Buffer.from(bytes)
      .toString('latin1')
      .match(/\(þÿ[^)]*\)/g) ?? []
  )
    .join(' ')
    .replaceAll('\u0000', '');
  return `${pdfText(bytes).pages.join('\n')} ${Buffer.from(bytes).toString('latin1')} ${hexTexts}`;
}
