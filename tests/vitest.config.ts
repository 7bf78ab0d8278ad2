import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

const root = fileURLToPath(new URL('..', import.meta.url));

// Packages resolve to their sources through the `source` export condition, so tests never run against a stale build.
export default defineConfig({
  root,
  ssr: { resolve: { conditions: ['source', 'module', 'node'] } },
  resolve: { conditions: ['source', 'module', 'node'] },
  test: {
    include: ['tests/**/*.test.ts'],
    // Generous: what is slow on a busy machine is not wrong.
    testTimeout: 60_000,
    hookTimeout: 120_000,
    maxWorkers: 2,
    server: { deps: { inline: [/@warmbrick\//] } },
  },
});
