/** The recorded case of a derate whose cause has scrolled away: the inquiry still finds it, and the sheet says so. */

import { fileURLToPath } from 'node:url';
import { handoverSchema } from '@warmbrick/contracts';
import { describe, expect, it } from 'vitest';
import { run } from '../workbench/run.js';

const folder = fileURLToPath(new URL('../../replay-data/derate-cause-scrolled-away/', import.meta.url));
const recordings = [`${folder}recording.csv.gz`, `${folder}dozer-12.log`];
/** Codes that a display of ten lines shows when the power is taken. Source: common practice. */
const displayLines = 10;

describe('derate-cause-scrolled-away', () => {
  it('has its cause off the display when the power is taken', async () => {
    const { out } = await run('faults', ...recordings, '--sort', 'time', '--json', '--quiet');
    const { faults } = JSON.parse(out) as { faults: { spn: number; firstAt: string }[] };
    const byFirst = [...faults].sort((a, b) => (a.firstAt < b.firstAt ? 1 : -1));
    const derateAt = byFirst.find(({ spn }) => spn === 1569)?.firstAt ?? '';
    const before = byFirst.filter(({ firstAt }) => firstAt <= derateAt);
    expect(before.slice(0, displayLines).map(({ spn }) => spn)).not.toContain(3516);
    expect(before.map(({ spn }) => spn)).toContain(3516);
  });

  it('is traced to the weak DEF, and to none of the codes that came later', async () => {
    const { out, exitCode } = await run('handover', ...recordings, '--format', 'json', '--quiet');
    expect(exitCode).toBe(0);
    const document = handoverSchema.parse(JSON.parse(out));
    expect(document.derates).toHaveLength(1);
    const inquiry = document.derates[0]?.inquiry;
    expect(inquiry?.verdict).toBe('found');
    expect(inquiry?.origins.filter(({ isOrigin }) => isOrigin).map(({ spn, fmi }) => [spn, fmi])).toEqual([[3516, 18]]);
    // SPN 5246 and 1569 say that power is taken, and not why.
    expect(inquiry?.origins.map(({ spn }) => spn)).not.toContain(5246);
    expect(inquiry?.origins.map(({ spn }) => spn)).not.toContain(1569);
    expect(document.codes.length).toBeGreaterThan(12);
    expect(document.inShort.join(' ')).toContain('SPN 3516 FMI 18');
  });
});
