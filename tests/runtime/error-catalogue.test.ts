import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { errorCatalogue } from '@warmbrick/runtime';
import { describe, expect, it } from 'vitest';

const root = fileURLToPath(new URL('../..', import.meta.url));

/** TypeScript sources of libraries and services. */
function sourceFiles(): string[] {
  return ['libs', 'services'].flatMap((group) =>
    readdirSync(join(root, group)).flatMap((name) => {
      const src = join(root, group, name, 'src');
      return readdirSync(src, { recursive: true, encoding: 'utf8' })
        .filter((path) => /\.tsx?$/.test(path))
        .map((path) => join(src, path));
    }),
  );
}

/** Codes written in `new OperatingError(…, { code: … })`; of a choice, both. */
function codesIn(source: string): string[] {
  const codes: string[] = [];
  for (const { index } of source.matchAll(/new OperatingError\(/g)) {
    const call = source.slice(index, index + 1500);
    const written = call.match(/\bcode: ([^,}]+)/)?.[1] ?? '';
    codes.push(...[...written.matchAll(/'([^']+)'/g)].map((match) => match[1] as string));
  }
  return codes;
}

describe('the error catalogue', () => {
  const used = new Map(
    sourceFiles().flatMap((path) => codesIn(readFileSync(path, 'utf8')).map((code) => [code, path])),
  );

  it('holds every code that an operating error is made with', () => {
    expect(used.size).toBeGreaterThan(15);
    const missing = [...used].filter(([code]) => !(code in errorCatalogue));
    expect(missing, 'add these to libs/runtime/src/error-catalogue.ts').toEqual([]);
  });

  it('holds no code that nothing uses', () => {
    expect(Object.keys(errorCatalogue).filter((code) => !used.has(code))).toEqual([]);
  });

  it('says for each what it means and what to do, with a status that HTTP knows', () => {
    for (const [code, entry] of Object.entries(errorCatalogue)) {
      expect(code).toMatch(/^[a-z]+(-[a-z]+)*$/);
      expect(entry.title).toMatch(/^[A-Z].*[^.]$/);
      expect(entry.remedy).toMatch(/^[A-Z].*\.$/);
      // Source: RFC 9110, 15: client errors are 4xx, server errors 5xx.
      expect(entry.httpStatus).toBeGreaterThanOrEqual(400);
      expect(entry.httpStatus).toBeLessThan(600);
    }
  });
});
