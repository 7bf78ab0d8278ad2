/** Samples out of the archive. */

import { OperatingError } from '@warmbrick/runtime';
import { type SampleBlock, sliceBlock } from '@warmbrick/signals';
import { decodeChunk } from '../chunk/decode-chunk.js';
import { chunkSpanMs, firstAtOrAfter } from '../chunk/split-by-hour.js';
import type { SampleRange } from '../store.js';
import type { Session } from './database.js';

/** Most samples given at once: 35 days at one a second. Source: engineering judgement: 250 MB with 20 channels. */
const maxSamples = 3_000_000;

/**
 * A machine's samples in [fromMs, toMs), in order of time, a block at most an hour long.
 *
 * Errors: OperatingError `range-too-long` for more samples than fit in memory.
 */
export async function readSamples(session: Session, range: SampleRange): Promise<SampleBlock[]> {
  // A chunk starts at most an hour before its last sample, so the index alone finds all that reach into the range.
  const values = [range.machineId, Math.floor(range.fromMs) - chunkSpanMs, Math.ceil(range.toMs)];
  const condition = 'machine_id = $1 AND t0 > $2 AND t0 < $3';
  const counted = await session.query({
    name: 'count-samples',
    text: `SELECT coalesce(sum(n), 0)::int8 AS n FROM sample_chunk WHERE ${condition}`,
    values,
  });
  if (counted.rows[0]?.n > maxSamples) throw tooLong(range.machineId, counted.rows[0]?.n);
  const { rows } = await session.query({
    name: 'read-samples',
    text: `SELECT data FROM sample_chunk WHERE ${condition} ORDER BY t0`,
    values,
  });
  const blocks: SampleBlock[] = [];
  for (const row of rows) {
    const block = decodeChunk(row.data, range.channels);
    const from = firstAtOrAfter(block.timeMs, range.fromMs);
    const to = firstAtOrAfter(block.timeMs, range.toMs);
    if (from < to) blocks.push(sliceBlock(block, from, to));
  }
  return blocks;
}

function tooLong(machineId: string, count: number): OperatingError {
  return new OperatingError(`The range holds ${count} samples; at most ${maxSamples} are read at once.`, {
    code: 'range-too-long',
    where: machineId,
    remedy: 'Ask for a shorter range.',
  });
}
