/** Blocks that are lent share their arrays: nothing of one block may show in the next. */

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { readInOrder } from '@warmbrick/recordings';
import { blockChannels, type SampleBlock } from '@warmbrick/signals';
import { afterAll, describe, expect, it } from 'vitest';

const folder = mkdtempSync(join(tmpdir(), 'warmbrick-lent-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Ten minutes of two machines with holes: a channel is sent in some stretches only. */
function recording(): string {
  const path = join(folder, 'holes.csv');
  const lines = ['machineId,time,engineSpeedRpm,engineLoadPct,exhaustTempC,dpfSootPct'];
  for (let i = 0; i < 600; i++) {
    const at = new Date(Date.UTC(2026, 0, 5, 6) + i * 1000).toISOString();
    const soot = Math.floor(i / 40) % 3 === 0 ? `${i % 90}` : '';
    lines.push(
      `crusher-${Math.floor(i / 100) % 2},${at},${900 + (i % 50)},${i % 7 === 0 ? '' : i % 100},${200 + (i % 30)},${soot}`,
    );
  }
  writeFileSync(path, `${lines.join('\n')}\n`);
  return path;
}

/** Every value that was handed over, as text. */
async function values(path: string, options: { blockSamples: number; lendBlocks: boolean }): Promise<string[]> {
  const seen: string[] = [];
  const block = (each: SampleBlock) => {
    for (let i = 0; i < each.timeMs.length; i++) {
      const row = blockChannels(each)
        .map((name) => `${name}=${each.channels[name]?.[i]}`)
        .filter((cell) => !cell.endsWith('NaN'));
      seen.push(`${each.machineId} ${each.timeMs[i]} ${row.join(' ')}`);
    }
  };
  await readInOrder([path], options, { block, restart: () => seen.splice(0) });
  return seen.sort();
}

describe('blocks that are lent', () => {
  it.each([7, 40, 64, 1000])('hold the same values as blocks that are given, %i samples each', async (blockSamples) => {
    const path = recording();
    const given = await values(path, { blockSamples, lendBlocks: false });
    expect(given).toHaveLength(600);
    expect(given.some((row) => row.includes('dpfSootPct'))).toBe(true);
    expect(await values(path, { blockSamples, lendBlocks: true })).toEqual(given);
  });
});
