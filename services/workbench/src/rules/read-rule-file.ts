/** A rule from a file. */

import { readFile } from 'node:fs/promises';
import { builtInRules, type Rule, readRule } from '@warmbrick/alerting';
import { OperatingError } from '@warmbrick/runtime';
import { parse } from 'yaml';

/** Bytes of a rule file at most. Source: engineering judgement; a rule is under 4 KiB. */
const mostBytes = 64 * 1024;

/**
 * Reads a rule, as YAML or JSON; the id of a built-in rule stands for that rule.
 *
 * Errors: OperatingError `bad-rule` with everything that is wrong.
 */
export async function readRuleFile(name: string): Promise<Rule> {
  const builtIn = builtInRules.find(({ id }) => id === name);
  if (builtIn !== undefined) return builtIn;
  const { rule, problems } = readRule(parsed(await textOf(name), name));
  if (rule !== null) return rule;
  const words = problems.map(({ path, message }) => `  ${path === '' ? 'the rule' : path}: ${message}`).join('\n');
  throw badRule(`the rule is not valid:\n${words}`, name);
}

async function textOf(path: string): Promise<string> {
  let text: string;
  try {
    text = await readFile(path, 'utf8');
  } catch (cause) {
    throw badRule('the rule cannot be read, and no built-in rule is called that.', path, cause);
  }
  if (text.length > mostBytes) throw badRule('the file is too long for a rule.', path);
  return text;
}

function parsed(text: string, path: string): unknown {
  try {
    // No references: a file of a few lines must not become a large value.
    return parse(text, { maxAliasCount: 0 });
  } catch (cause) {
    throw badRule(`not YAML or JSON: ${(cause as Error).message.split('\n')[0]}`, path, cause);
  }
}

function badRule(message: string, where: string, cause: unknown = null): OperatingError {
  const remedy = 'Correct it; "warmbrick rules explain idle-over-an-hour" prints a rule to start from.';
  return new OperatingError(message, { code: 'bad-rule', where, remedy, cause });
}
