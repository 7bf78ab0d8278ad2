import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

const root = fileURLToPath(new URL('..', import.meta.url));

/** Files whose bounds are in time: they run after all others and one by one, since what runs beside them would be measured too. */
const timed = 'tests/**/*.timing.test.ts';

// Packages resolve to their sources through the `source` export condition, so tests never run against a stale build.
export default defineConfig({
  root,
  ssr: { resolve: { conditions: ['source', 'module', 'node'] } },
  resolve: { conditions: ['source', 'module', 'node'] },
  test: {
    // Generous: what is slow on a busy machine is not wrong.
    testTimeout: 60_000,
    hookTimeout: 120_000,
    server: { deps: { inline: [/@warmbrick\//] } },
    projects: [
      {
        extends: true,
        test: {
          name: 'tests',
          include: ['tests/**/*.test.ts'],
          exclude: [timed],
          maxWorkers: 2,
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: { name: 'timed', include: [timed], maxWorkers: 1, sequence: { groupOrder: 1 } },
      },
    ],
  },
});
