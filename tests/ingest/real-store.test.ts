/** The pipeline on the store that it runs on: a real PostgreSQL. */

import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type EmbeddedPostgres, openStore, type Store, startEmbeddedPostgres } from '@warmbrick/store';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { contentsOf, pieces, simulated, testIngest } from './drive.js';

let folder: string;
let postgres: EmbeddedPostgres;
let store: Store;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'warmbrick-ingest-'));
  await chmod(folder, 0o755);
  postgres = await startEmbeddedPostgres({ dataDir: folder });
  store = await openStore({ connectionString: postgres.connectionString });
});
afterAll(async () => {
  await store?.close();
  await postgres?.stop();
  await rm(folder, { recursive: true, force: true });
});

/** What is stored of a machine, without the machine's name in it, so that machines can be compared. */
async function answerOf(machineId: string) {
  const contents = await contentsOf(store, machineId);
  return JSON.parse(JSON.stringify(contents).replaceAll(machineId, 'the machine')) as unknown;
}

/** The same day for any machine: what the simulator makes hangs on the machine's name. */
const day = simulated('the machine');
const feed = (machineId: string) => pieces({ ...day, machineId }, 600);

describe('the pipeline on PostgreSQL', { timeout: 120_000 }, () => {
  it('ends the same in any order of arrival, with repetitions and a restart', async () => {
    const ingest = testIngest(store);
    for (const piece of feed('in-order')) await ingest.accept([piece]);
    const expected = await answerOf('in-order');
    expect(expected).toMatchObject({
      findings: expect.arrayContaining([expect.objectContaining({ kind: 'idle-streak' })]),
    });

    let turn = 0;
    const places = feed('x').map((_, at) => at);
    const arrivals = fc.tuple(fc.shuffledSubarray(places, { minLength: places.length }), fc.subarray(places));
    await fc.assert(
      fc.asyncProperty(arrivals, async ([order, repeated]) => {
        const machineId = `shuffled-${turn++}`;
        const parts = feed(machineId);
        const first = testIngest(store);
        const arriving = [...order, ...repeated].map((at) => parts[at] as (typeof parts)[number]);
        for (const piece of arriving.slice(0, 5)) await first.accept([piece]);
        await first.close();
        const second = testIngest(store);
        await second.accept(arriving.slice(5, 9));
        for (const piece of arriving.slice(9)) await second.accept([piece]);
        expect(await answerOf(machineId)).toEqual(expected);
      }),
      { numRuns: 5 },
    );
  });

  it('goes on by itself when the database is killed in the middle', async () => {
    const ingest = testIngest(store, { limits: { firstRetryMs: 20, longestRetryMs: 200 } });
    const { epoch } = await store.claim('killed', 0);
    for (const [at, piece] of feed('killed').entries()) {
      const taken = ingest.accept([piece], { cursor: { source: 'killed', partition: 0, epoch, nextOffset: at + 1 } });
      const pid = postgres.pid();
      if ((at === 3 || at === 8) && pid !== null) process.kill(pid, 'SIGKILL');
      await taken;
    }
    expect(await answerOf('killed')).toEqual(await answerOf('in-order'));
    expect(ingest.stats().retries).toBeGreaterThan(0);
    expect((await store.claim('killed', 0)).nextOffset).toBe(feed('killed').length);
  });
});
