/** The cases have to notice thresholds that were moved: a case that passes with any analysis shows nothing. */

import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { readCaseFile } from './case-file.js';
import { differences } from './compare-findings.js';
import { replayCase } from './replay-case.js';

const root = fileURLToPath(new URL('../../replay-data/', import.meta.url));

async function differencesWith(name: string, limits: Record<string, number>): Promise<string[]> {
  const folder = `${root}${name}/`;
  const wanted = readCaseFile(`${folder}case.yaml`);
  const machines = Object.fromEntries(
    Object.entries(wanted.machines).map(([id, profile]) => [id, { ...profile, limits }]),
  );
  const { document } = await replayCase(folder, wanted.recordings, { machines });
  return differences(wanted, document);
}

describe('a threshold moved for one machine', () => {
  it.each([
    { name: 'good-shift', limits: { idleLimitS: 300 }, says: 'must not be found' },
    { name: 'good-shift', limits: { coldLimitS: 300 }, says: 'must not be found' },
    { name: 'long-idles', limits: { idleBlipS: 5 }, says: 'missing' },
    { name: 'long-idles', limits: { idleBlipS: 600 }, says: 'not expected' },
    { name: 'hot-stops', limits: { cooldownWantedS: 400 }, says: 'not expected' },
    { name: 'hot-stops', limits: { cooldownWantedS: 60 }, says: 'missing' },
    { name: 'hot-stops', limits: { cooldownSevereS: 5, hotMetalSevereC: 500 }, says: 'expected severe' },
    { name: 'hot-stops', limits: { cooldownSevereS: 200 }, says: 'expected notice,warning' },
    { name: 'light-duty-below-window', limits: { coldLimitS: 20_000 }, says: 'missing' },
    { name: 'late-and-duplicated', limits: { idleLimitS: 5000 }, says: 'missing' },
    { name: 'broken-sensors', limits: { maxHoldS: 1 }, says: 'missing' },
    { name: 'gateway-gaps', limits: { dataGapS: 100 }, says: 'not expected' },
    { name: 'gateway-gaps', limits: { maxHoldS: 3600 }, says: 'missing' },
    { name: 'cold-starts', limits: { warmupBaseS: 0, warmupPerKelvinS: 0 }, says: 'missing' },
  ])('shows in $name with $limits', async ({ name, limits, says }) => {
    expect((await differencesWith(name, limits as Record<string, number>)).join('\n')).toContain(says);
  });
});
