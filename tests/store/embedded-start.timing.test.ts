import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createLogger } from '@warmbrick/runtime';
import { type EmbeddedPostgres, startEmbeddedPostgres } from '@warmbrick/store';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { runSql } from './postgres.js';

const logger = createLogger({ name: 'test', level: 'silent' });
let folder: string;
let running: EmbeddedPostgres | null = null;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-test-'));
  chmodSync(folder, 0o755);
});
afterEach(async () => {
  await running?.stop();
  rmSync(folder, { recursive: true, force: true });
});

describe('an embedded server', () => {
  it('is ready from nothing within a bound, and soon when started again', async () => {
    const freshMs = await startMs();
    expect(await runSql((running as EmbeddedPostgres).connectionString, 'SELECT 1 AS one')).toEqual([{ one: 1 }]);
    await running?.stop();
    const againMs = await startMs();
    console.info(`fresh start ${freshMs.toFixed(0)} ms, start again ${againMs.toFixed(0)} ms`);
    // About 1.2 s and 0.05 s on an idle laptop, and up to three times that on a slow shared one.
    expect(freshMs).toBeLessThan(8000);
    expect(againMs).toBeLessThan(3000);
  });
});

async function startMs(): Promise<number> {
  const beganMs = performance.now();
  running = await startEmbeddedPostgres({ dataDir: join(folder, 'data'), logger });
  return performance.now() - beganMs;
}
