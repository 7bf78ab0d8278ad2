import { channelNames, channels, type SampleBlock, sliceBlock } from '@warmbrick/signals';
import type { Store } from '@warmbrick/store';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { changeOf, hourStartMs, noisyBlock } from './blocks.js';
import { runSql, startTestServer, type TestServer } from './postgres.js';

let server: TestServer;
let url: string;
let store: Store;
let runs = 0;

beforeAll(async () => {
  server = await startTestServer();
  url = await server.freshDatabase();
  store = await server.openOn(url);
});
afterAll(() => server.stop());

/** Three hours, a sample every ten seconds, of five channels of each kind. */
const count = 3 * 360;
const names = [...channelNames].filter((name) => channels[name].kind !== 'state').slice(-5);
const source = noisyBlock(names, count, 11);
const whole: SampleBlock = { ...source, timeMs: source.timeMs.map((_, i) => hourStartMs + i * 10_000) };

/** Pieces [from, to) that cover everything, some of it twice, in any order, several to a commit. */
const deliveries = fc
  .tuple(
    fc.uniqueArray(fc.integer({ min: 1, max: count - 1 }), { minLength: 1, maxLength: 40 }),
    fc.array(fc.tuple(fc.nat(count - 1), fc.nat(200)), { maxLength: 10 }),
  )
  .chain(([cuts, repeats]) => {
    const edges = [0, ...cuts.sort((a, b) => a - b), count];
    const pieces = edges.slice(1).map((to, i) => [edges[i] as number, to] as const);
    const again = repeats.map(([from, length]) => [from, Math.min(count, from + length + 1)] as const);
    const all = [...pieces, ...again];
    return fc.tuple(
      fc.shuffledSubarray(all, { minLength: all.length, maxLength: all.length }),
      fc.integer({ min: 1, max: 5 }),
    );
  });

describe('the archive', () => {
  it('is the same whatever the samples were cut into, repeated by and ordered by', async () => {
    await fc.assert(
      fc.asyncProperty(deliveries, async ([pieces, perCommit]) => {
        const machineId = `machine-${runs++}`;
        const block = { ...whole, machineId };
        for (let at = 0; at < pieces.length; at += perCommit) {
          const samples = pieces.slice(at, at + perCommit).map(([from, to]) => sliceBlock(block, from, to));
          await store.commit([changeOf(machineId, { samples })], null);
        }
        const blocks = await store.readSamples({ machineId, fromMs: 0, toMs: 1e14 });
        let read = 0;
        for (const part of blocks) {
          expect(part).toEqual(sliceBlock(block, read, read + part.timeMs.length));
          read += part.timeMs.length;
        }
        expect(read).toBe(count);
        const chunks = await runSql(
          url,
          'SELECT t0 / 3600000 AS first, t1 / 3600000 AS last FROM sample_chunk WHERE machine_id = $1',
          [machineId],
        );
        // No chunk crosses a full hour, and no hour has many.
        expect(chunks.every((chunk) => chunk.first === chunk.last)).toBe(true);
        expect(chunks.length).toBeLessThanOrEqual(3 * 64);
      }),
      { numRuns: 20 },
    );
  }, 60_000);
});
