/** The tree of the project's own sources, for tests that hold it to its shape. */

import { execFileSync } from 'node:child_process';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

export const root = fileURLToPath(new URL('../../', import.meta.url));

export interface SourceFile {
  /** Path from the root, with forward slashes. */
  readonly path: string;
  readonly group: 'libs' | 'services';
  readonly packageName: string;
  readonly text: string;
  /** The text without comments and the contents of strings, for looking for calls. */
  readonly code: string;
}

/** Every TypeScript file of libs and services. */
export const sourceFiles: readonly SourceFile[] = (['libs', 'services'] as const).flatMap((group) =>
  readdirSync(`${root}${group}`).flatMap((packageName) =>
    typescriptUnder(`${group}/${packageName}/src`).map((path) => {
      const text = readFileSync(root + path, 'utf8');
      return { path, group, packageName, text, code: withoutCommentsAndStrings(text) };
    }),
  ),
);

/** Packages that exist, by group. */
export const packages = (['libs', 'services'] as const).flatMap((group) =>
  readdirSync(`${root}${group}`)
    .filter((name) => existsSync(`${root}${group}/${name}/package.json`))
    .map((name) => ({ group, name, folder: `${group}/${name}` })),
);

/** Files under version control, or all that are not ignored where there is no repository history yet. */
export function trackedFiles(): string[] {
  const listed = execFileSync('git', ['ls-files', '--cached', '--others', '--exclude-standard'], {
    cwd: root,
    encoding: 'utf8',
  });
  return listed.split('\n').filter((path) => path !== '' && existsSync(root + path));
}

/** Specifiers of everything that a file imports or re-exports. */
export function importsOf(file: SourceFile): string[] {
  const found = file.text.matchAll(
    /(?:^|\n)\s*(?:import|export)\s[^;]*?from\s+'([^']+)'|import\(\s*'([^']+)'\s*\)|(?:^|\n)import\s+'([^']+)'/g,
  );
  return [...found].map((match) => match[1] ?? match[2] ?? match[3] ?? '');
}

function typescriptUnder(folder: string): string[] {
  if (!existsSync(root + folder)) return [];
  return readdirSync(root + folder, { withFileTypes: true, recursive: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name))
    .map((entry) => `${entry.parentPath.slice(root.length)}/${entry.name}`);
}

function withoutCommentsAndStrings(text: string): string {
  return text
    .replace(/\/\*[\s\S]*?\*\//g, ' ')
    .replace(/(^|[^:'"`])\/\/[^\n]*/g, '$1')
    .replace(/'(?:[^'\\\n]|\\.)*'/g, "''")
    .replace(/"(?:[^"\\\n]|\\.)*"/g, '""');
}
