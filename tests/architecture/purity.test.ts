import { describe, expect, it } from 'vitest';
import { importsOf, type SourceFile, sourceFiles } from './source-tree.js';

/** From contracts down nothing has a clock, randomness or I/O. */
const pureLibs = ['signals', 'j1939', 'aftertreatment', 'analysis', 'simulator', 'alerting', 'tuning', 'contracts'];

const banned: readonly (readonly [RegExp, string])[] = [
  [/\bDate\.now\b/, 'reads the clock'],
  [/\bnew Date\(\s*\)/, 'reads the clock'],
  [/\bperformance\.now\b/, 'reads the clock'],
  [/\bMath\.random\b/, 'is random'],
  [/\bcrypto\b/, 'is random'],
  [/\bprocess\.(?!\w*\s*[:=])/, 'looks at the process'],
  [/\b(setTimeout|setInterval|setImmediate|queueMicrotask)\(/, 'waits'],
  [/\bfetch\(/, 'does I/O'],
  [/\bconsole\.\w+\(/, 'prints'],
  [/\bglobalThis\b/, 'reaches for globals'],
];

function problemsOf(file: SourceFile): string[] {
  const calls = banned.filter(([pattern]) => pattern.test(file.code)).map(([, what]) => `${file.path} ${what}`);
  const modules = importsOf(file)
    .filter((specifier) => specifier.startsWith('node:'))
    .map((specifier) => `${file.path} imports ${specifier}`);
  return [...calls, ...modules];
}

const pureFiles = sourceFiles.filter((file) => file.group === 'libs' && pureLibs.includes(file.packageName));

describe('pure libraries', () => {
  it('have no clock, no randomness and no I/O', () => {
    expect(pureFiles.length).toBeGreaterThan(30);
    expect(pureFiles.flatMap(problemsOf)).toEqual([]);
  });

  it('would be caught', () => {
    const at = (code: string) => problemsOf({ path: 'a.ts', group: 'libs', packageName: 'signals', text: code, code });
    expect(at('const t = Date.now();')).toEqual(['a.ts reads the clock']);
    expect(at('const t = new Date(timeMs);')).toEqual([]);
    expect(at('Math.random()')).toEqual(['a.ts is random']);
    expect(at("import { readFileSync } from 'node:fs';")).toEqual(['a.ts imports node:fs']);
  });
});
