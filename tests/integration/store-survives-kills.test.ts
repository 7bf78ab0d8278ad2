/** Kills at any time, of our own process or of the database's: nothing that was acknowledged is lost or doubled. */

import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { createLogger, OperatingError } from '@warmbrick/runtime';
import { openStore, type Store, startEmbeddedPostgres } from '@warmbrick/store';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { changeOf, hourStartMs, steadyBlock } from '../store/blocks.js';
import { isRunning, startChild } from '../store/child.js';

let folder: string;
let dataDir: string;
const logger = createLogger({ name: 'test', level: 'silent' });
const source = 'kills';

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-test-'));
  chmodSync(folder, 0o755);
  dataDir = join(folder, 'data');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** Sample k carries time k, and the cursor says how many there are: both must agree, without a hole. */
async function expectWhole(store: Store, atLeast: number): Promise<number> {
  const { nextOffset } = await store.claim(source, 0);
  expect(nextOffset).toBeGreaterThanOrEqual(atLeast);
  const blocks = await store.readSamples({ machineId: 'm', fromMs: 0, toMs: 1e14 });
  const times = blocks.flatMap((block) => [...block.timeMs]);
  expect(times).toEqual(Array.from({ length: nextOffset }, (_, i) => hourStartMs + i * 1000));
  return nextOffset;
}

describe('kill -9 of our process while it commits', () => {
  it('leaves a folder that the next start takes over with all that was acknowledged', async () => {
    let acknowledged = 0;
    const orphans: number[] = [];
    for (let round = 0; round < 3; round++) {
      const child = startChild('server-host.ts', ['commit', dataDir]);
      orphans.push((await child.line('ready')).ready as number);
      await child.line('acknowledged');
      await sleep(150 + 170 * round);
      await child.end('SIGKILL');
      const last = child.told.filter((line) => 'acknowledged' in line).at(-1)?.acknowledged as number;
      expect(last).toBeGreaterThanOrEqual(acknowledged);
      acknowledged = last + 1;
    }
    // The last server was orphaned; this start stops it.
    const server = await startEmbeddedPostgres({ dataDir, logger });
    try {
      expect(orphans.map(isRunning)).toEqual([false, false, false]);
      const store = await openStore({ connectionString: server.connectionString });
      await expectWhole(store, acknowledged);
      await store.close();
    } finally {
      await server.stop();
    }
  }, 120_000);
});

describe('kill -9 of the database server while we commit', () => {
  it('shows as failures to try again, after which nothing is lost or doubled', async () => {
    const server = await startEmbeddedPostgres({ dataDir, logger });
    const store = await openStore({ connectionString: server.connectionString });
    try {
      const { epoch } = await store.claim(source, 0);
      let failures = 0;
      const commitOne = async (offset: number): Promise<void> => {
        for (let attempt = 0; ; attempt++) {
          try {
            const samples = [steadyBlock('m', hourStartMs + offset * 1000, 1)];
            return await store.commit([changeOf('m', { samples })], {
              source,
              partition: 0,
              epoch,
              nextOffset: offset + 1,
            });
          } catch (error) {
            expect(error).toBeInstanceOf(OperatingError);
            expect(error).toMatchObject({ code: 'store-unavailable', isRetriable: true });
            expect(attempt).toBeLessThan(500);
            failures++;
            await sleep(20);
          }
        }
      };
      let offset = 0;
      for (let kill = 0; kill < 4; kill++) {
        const killer = sleep(200 + 90 * kill).then(() => {
          const pid = server.pid() as number;
          process.kill(pid, 'SIGKILL');
          return pid;
        });
        let killed: number | null = null;
        void killer.then((pid) => {
          killed = pid;
        });
        // Goes on until the server that was killed has a successor, and some way beyond.
        for (let more = 20; more > 0; offset++) {
          await commitOne(offset);
          if (killed !== null && server.pid() !== null && server.pid() !== killed) more--;
        }
      }
      const stored = await expectWhole(store, offset);
      expect(stored).toBe(offset);
      expect(failures).toBeGreaterThan(0);
    } finally {
      await store.close();
      await server.stop();
    }
  }, 120_000);
});
