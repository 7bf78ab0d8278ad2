import { describe, expect, it } from 'vitest';
import { importsOf, packages, type SourceFile, sourceFiles } from './source-tree.js';

/** Arrows point down only: a package imports from lower ranks. */
const rank: Readonly<Record<string, number>> = {
  signals: 0,
  j1939: 1,
  aftertreatment: 1,
  analysis: 2,
  simulator: 2,
  alerting: 3,
  tuning: 3,
  contracts: 4,
  runtime: 5,
  store: 6,
  kafka: 6,
  recordings: 6,
  reports: 6,
};
const serviceRank = 7;
/** Only tests import it. */
const testOnly = 'testkit';
/** Third-party packages that only one of ours may import. */
const soleImporters: Readonly<Record<string, string>> = {
  kafkajs: 'kafka',
  pg: 'store',
  '@duckdb/node-api': 'recordings',
  fastify: 'alerts-api',
  jose: 'alerts-api',
  pdfkit: 'reports',
  nodemailer: 'notifier',
  commander: 'workbench',
  preact: 'console',
  uplot: 'console',
};

function rankOf(file: SourceFile): number {
  return file.group === 'services' ? serviceRank : (rank[file.packageName] ?? Number.NaN);
}

function problemsOf(file: SourceFile): string[] {
  return importsOf(file).flatMap((specifier) => {
    const ours = /^@warmbrick\/([^/]+)(\/.*)?$/.exec(specifier);
    if (ours === null) return soleImporterProblem(file, specifier);
    const [, name = '', past] = ours;
    if (past !== undefined) return [`${file.path} imports past the index of ${name}`];
    if (name === testOnly) return [`${file.path} imports ${testOnly}, which is for tests`];
    if (file.packageName === testOnly) return [];
    if (rank[name] === undefined) {
      const isAllowed = file.packageName === 'all-in-one' && file.group === 'services';
      return isAllowed ? [] : [`${file.path} imports the service ${name}`];
    }
    return (rank[name] as number) < rankOf(file) ? [] : [`${file.path} imports ${name}, which does not lie below it`];
  });
}

function soleImporterProblem(file: SourceFile, specifier: string): string[] {
  const name = specifier.startsWith('@') ? specifier.split('/').slice(0, 2).join('/') : (specifier.split('/')[0] ?? '');
  const owner = soleImporters[name];
  return owner === undefined || owner === file.packageName ? [] : [`${file.path} imports ${name}; only ${owner} may`];
}

describe('import direction', () => {
  it('ranks every library', () => {
    const unranked = packages.filter(({ group, name }) => group === 'libs' && rank[name] === undefined);
    expect(unranked.map(({ name }) => name)).toEqual([testOnly]);
  });

  it('points down only, and to the index of a package', () => {
    expect(sourceFiles.length).toBeGreaterThan(50);
    expect(sourceFiles.flatMap(problemsOf)).toEqual([]);
  });

  it('sees a wrong import', () => {
    const wrong = (path: string, packageName: string, specifier: string) =>
      problemsOf({ path, group: 'libs', packageName, text: `import { a } from '${specifier}';`, code: '' });
    expect(wrong('a.ts', 'signals', '@warmbrick/analysis')).toHaveLength(1);
    expect(wrong('a.ts', 'analysis', '@warmbrick/signals/src/channels.js')).toHaveLength(1);
    expect(wrong('a.ts', 'analysis', '@warmbrick/ingest')).toHaveLength(1);
    expect(wrong('a.ts', 'runtime', 'pg')).toHaveLength(1);
    expect(wrong('a.ts', 'analysis', '@warmbrick/signals')).toEqual([]);
  });
});
