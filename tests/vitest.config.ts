import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

const root = fileURLToPath(new URL('..', import.meta.url));

/** Files whose bounds are in time: they run after all others and one by one, since what runs beside them would be measured too. */
const timed = 'tests/**/*.timing.test.ts';

/** Folders of tests that neither start processes nor change anything outside of themselves. */
const libraries = [
  'aftertreatment',
  'alerting',
  'analysis',
  'conformance',
  'console',
  'contracts',
  'golden',
  'j1939',
  'recordings',
  'reports',
  'signals',
  'simulator',
  'tuning',
];

/** More of them at once are no faster where there are two cores: they get into each other's way. */
const maxWorkers = 2;

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
          name: 'libraries',
          include: libraries.map((name) => `tests/${name}/**/*.test.ts`),
          exclude: [timed],
          // They start nothing and leave nothing behind: modules loaded once are enough for all of them.
          isolate: false,
          maxWorkers,
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: {
          name: 'programs',
          include: ['tests/**/*.test.ts'],
          exclude: [timed, ...libraries.map((name) => `tests/${name}/**`)],
          maxWorkers,
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
