import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { builtInRules, readRule } from '@warmbrick/alerting';
import { findingKinds } from '@warmbrick/analysis';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';

const folder = join(import.meta.dirname, '../scenarios/rules-wrong');
const files = readdirSync(folder).filter((name) => name.endsWith('.yaml'));

/** A text with `*` for anything. */
const like = (pattern: string) =>
  new RegExp(
    `^${pattern
      .split('*')
      .map((part) => part.replace(/[.\\+?^${}()|[\]]/g, '\\$&'))
      .join('.*')}$`,
  );

describe('wrong rules', () => {
  it('are many', () => expect(files.length).toBeGreaterThanOrEqual(30));

  for (const file of files) {
    it(`${file} is told what is wrong, where, and what to write`, () => {
      const { rule, problems } = parse(readFileSync(join(folder, file), 'utf8')) as {
        rule: unknown;
        problems: string[];
      };
      const read = readRule(rule);
      expect(read.rule).toBeNull();
      const found = read.problems?.map(({ path, message }) => `${path === '' ? 'the rule' : path}: ${message}`) ?? [];
      expect(found).toEqual(problems.map((problem) => expect.stringMatching(like(problem))));
    });
  }
});

describe('built-in rules', () => {
  it('have ids of their own, a source, and survive being written down and read', () => {
    expect(new Set(builtInRules.map(({ id }) => id)).size).toBe(builtInRules.length);
    for (const rule of builtInRules) {
      expect(rule.source, rule.id).not.toBe('set by the user');
      expect(readRule(JSON.parse(JSON.stringify(rule))).rule).toEqual(rule);
    }
  });

  it('look at every kind of finding that somebody should hear of', () => {
    /** Kinds that are a record, not news. */
    const records = ['engine-run', 'data-gap', 'def-fill', 'cold-start'];
    const watched = builtInRules.flatMap(({ when }) => ('finding' in when ? [when.finding] : []));
    expect([...watched, ...records].sort()).toEqual([...findingKinds].sort());
  });

  it('say what to mind where something hot is advised', () => {
    const hot = builtInRules.filter(({ advice }) => /regeneration|hot|inhibit/i.test(advice ?? ''));
    expect(hot.length).toBeGreaterThan(0);
    for (const rule of hot) expect(rule.caution, rule.id).toMatch(/hot|secure/);
  });
});
