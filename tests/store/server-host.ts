/** Run as a process of its own by tests: keeps an embedded server, or commits to it, until it is killed. */

import { openStore, startEmbeddedPostgres } from '@warmbrick/store';
import { changeOf, hourStartMs, steadyBlock } from './blocks.js';

const [mode, dataDir, fallbackRoot] = process.argv.slice(2) as [string, string, string | undefined];

/** One line of JSON on stdout for each thing that a test waits for. */
function tell(line: unknown): void {
  process.stdout.write(`${JSON.stringify(line)}\n`);
}

const options = fallbackRoot === undefined ? { dataDir } : { dataDir, fallbackRoot };
const startedAt = performance.now();
const server = await startEmbeddedPostgres(options).catch((error: unknown) => {
  const { code, message } = error as { code: string; message: string };
  tell({ failed: code, message });
  return process.exit(3);
});
tell({ ready: server.pid(), tookMs: performance.now() - startedAt, connectionString: server.connectionString });
let isStopping = false;
process.once('SIGTERM', () => {
  isStopping = true;
  if (mode !== 'commit') void server.stop();
});

if (mode === 'commit') {
  const store = await openStore({ connectionString: server.connectionString });
  const source = { source: 'kills', partition: 0 };
  const { epoch, nextOffset } = await store.claim(source.source, 0);
  for (let offset = nextOffset; !isStopping; offset++) {
    const samples = [steadyBlock('m', hourStartMs + offset * 1000, 1)];
    await store.commit([changeOf('m', { samples })], { ...source, epoch, nextOffset: offset + 1 });
    tell({ acknowledged: offset });
  }
  await store.close();
  await server.stop();
}
