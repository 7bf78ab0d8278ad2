import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { packages, root, sourceFiles, trackedFiles } from './source-tree.js';

const topLevel = [
  'README.md',
  'DEVELOPERS.md',
  'LICENSE',
  'package.json',
  'package-lock.json',
  'tsconfig.json',
  'biome.json',
  'services',
  'libs',
  'tests',
  'replay-data',
  'deploy',
];

/** Lines of a source file at most; a table of data or what is made by a program may be longer than code. */
const mostLines = 300;
const tables = ['libs/j1939/src/signal-table.ts', 'services/console/src/api/client.ts'];

const json = (path: string) => JSON.parse(readFileSync(root + path, 'utf8'));

describe('the top level', () => {
  it('holds what it should and nothing else', () => {
    const found = [...new Set(trackedFiles().map((path) => path.split('/')[0] as string))];
    expect(found.filter((name) => !name.startsWith('.')).sort()).toEqual([...topLevel].sort());
  });
});

describe('packages', () => {
  it('have a README, one index and no other way in', () => {
    for (const { folder, name } of packages) {
      expect(existsSync(`${root}${folder}/README.md`), `${folder}/README.md`).toBe(true);
      if (name === 'console') continue;
      expect(existsSync(`${root}${folder}/src/index.ts`), `${folder}/src/index.ts`).toBe(true);
      expect(Object.keys(json(`${folder}/package.json`).exports), folder).toEqual(['.']);
    }
  });

  it('name exact versions', () => {
    const manifests = ['package.json', ...packages.map(({ folder }) => `${folder}/package.json`)].map(json);
    for (const manifest of manifests) {
      const { dependencies, devDependencies, optionalDependencies } = manifest;
      for (const [name, version] of Object.entries({ ...dependencies, ...devDependencies, ...optionalDependencies })) {
        expect(version, `${manifest.name}: ${name}`).toMatch(/^\d+\.\d+\.\d+(-[\w.]+)?$/);
      }
    }
  });

  it('refer in tsconfig to what they depend on, no more and no less', () => {
    for (const { folder } of packages) {
      const depends = Object.keys(json(`${folder}/package.json`).dependencies ?? {})
        .filter((name) => name.startsWith('@warmbrick/'))
        .map((name) => name.slice('@warmbrick/'.length));
      const refers = (json(`${folder}/tsconfig.json`).references ?? []).map(
        (reference: { path: string }) => reference.path.split('/').pop() as string,
      );
      expect([...refers].sort(), folder).toEqual([...depends].sort());
    }
  });
});

describe('source files', () => {
  it('are named in kebab-case and not too long', () => {
    for (const { path, text } of sourceFiles) {
      expect(path.split('/').pop(), path).toMatch(/^[a-z0-9]+(-[a-z0-9]+)*(\.d)?\.tsx?$/);
      if (!tables.includes(path)) expect(text.trimEnd().split('\n').length, path).toBeLessThanOrEqual(mostLines);
    }
  });

  it('export no default, enum or namespace and leave nothing unfinished', () => {
    for (const { path, code, text } of sourceFiles) {
      expect(code, path).not.toMatch(/\bexport default\b|\benum \w+ \{|\bnamespace \w+ \{/);
      expect(text, path).not.toMatch(/\b(TODO|FIXME|XXX)\b/);
    }
  });

  it('begin with a sentence that says what they are', () => {
    // A page's component says it at the component.
    const says = (path: string, text: string) =>
      path.endsWith('.tsx') ? text.includes('/**') : text.startsWith('/**');
    const mute = sourceFiles.filter(({ path, text }) => !path.endsWith('index.ts') && !says(path, text));
    expect(mute.map(({ path }) => path)).toEqual([]);
  });
});

describe('recorded cases', () => {
  it('each have a README, a case file and the expected document', () => {
    const folders = readdirSync(`${root}replay-data`, { withFileTypes: true }).filter((entry) => entry.isDirectory());
    expect(folders.length).toBeGreaterThanOrEqual(6);
    for (const { name } of folders) {
      for (const file of ['README.md', 'case.yaml', 'expected.json']) {
        expect(existsSync(`${root}replay-data/${name}/${file}`), `${name}/${file}`).toBe(true);
      }
    }
  });
});
