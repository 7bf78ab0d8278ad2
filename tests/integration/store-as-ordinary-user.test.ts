/** The embedded server started by an ordinary user. Run by root, the test becomes one for its child process. */

import { spawnSync } from 'node:child_process';
import { chmodSync, chownSync, mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { isRunning, startChild } from '../store/child.js';

const isRoot = process.getuid?.() === 0;
const hasSetpriv = spawnSync('setpriv', ['--version']).status === 0;
/** The user nobody of Debian and others; initdb needs a user that the system knows. */
const nobody = 65_534;

let folder: string;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'warmbrick-test-'));
  chmodSync(folder, 0o700);
  if (isRoot) chownSync(folder, nobody, nobody);
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('an ordinary user', () => {
  it.skipIf(isRoot && !hasSetpriv)(
    'starts, commits, and stops on request (as root: needs setpriv)',
    async () => {
      const prefix = isRoot ? ['setpriv', `--reuid=${nobody}`, `--regid=${nobody}`, '--clear-groups'] : [];
      const dataDir = join(folder, 'data');
      const child = startChild('server-host.ts', ['commit', dataDir], {
        prefix,
        env: { HOME: folder, TMPDIR: folder },
      });
      const { ready } = await child.line('ready');
      await child.line('acknowledged');
      const uid = isRoot ? nobody : process.getuid?.();
      expect(statSync(join(dataDir, 'postgres-18')).uid).toBe(uid);
      await child.end('SIGTERM');
      expect(child.process.exitCode).toBe(0);
      expect(isRunning(ready as number)).toBe(false);
    },
    60_000,
  );
});
