/** Reading a rule that a person wrote, with messages that say where, what was expected and what to write instead. */

import { findingKinds } from '@warmbrick/analysis';
import type { z } from 'zod';
import { figureNames } from './figures.js';
import { nearestName } from './nearest-name.js';
import { type Rule, ruleSchema } from './rule.js';

export interface RuleProblem {
  /** Such as "when.where.0"; empty for the rule as a whole. */
  readonly path: string;
  readonly message: string;
}

export type ReadRule =
  | { readonly rule: Rule; readonly problems: null }
  | { readonly rule: null; readonly problems: readonly RuleProblem[] };

type Issue = z.core.$ZodIssue;

const branches = ['finding', 'figure', 'rising', 'silentS'] as const;

/**
 * Checks a rule and fills in what was left out. All problems at once, in order of their places.
 *
 * Errors: none; what is wrong is in `problems`.
 */
export function readRule(value: unknown): ReadRule {
  const parsed = ruleSchema.safeParse(value, { reportInput: true });
  if (parsed.success) return { rule: parsed.data, problems: null };
  const problems = parsed.error.issues.flatMap((issue) => explain(issue, value));
  return { rule: null, problems };
}

function explain(issue: Issue, rule: unknown): RuleProblem[] {
  const path = issue.path.map(String).join('.');
  if (issue.code === 'invalid_union' && path === 'when') return explainWhen(issue.errors, rule);
  return [{ path, message: messageOf(issue) }];
}

/** Of the branches of a condition only the one that was meant is worth a message. */
function explainWhen(errors: readonly (readonly Issue[])[], rule: unknown): RuleProblem[] {
  const when = (rule as { when?: unknown }).when;
  const keys = typeof when === 'object' && when !== null ? Object.keys(when) : [];
  const meant = branches.filter((branch) => keys.includes(branch));
  const [only] = meant;
  if (only === undefined || meant.length > 1) {
    const found = keys.length === 0 ? 'nothing' : keys.join(', ');
    return [{ path: 'when', message: `expected one of finding, figure, rising and silentS; found ${found}` }];
  }
  return (errors[branches.indexOf(only)] ?? []).map((issue) => ({
    path: ['when', ...issue.path.map(String)].join('.'),
    message: messageOf(issue),
  }));
}

function messageOf(issue: Issue): string {
  if (issue.code === 'unrecognized_keys') {
    return `unknown ${issue.keys.length === 1 ? 'field' : 'fields'} ${issue.keys.map((key) => `"${key}"`).join(', ')}`;
  }
  if (issue.code !== 'invalid_value') return lowerFirst(issue.message);
  const wanted = issue.values.map(String);
  const last = String(issue.path.at(-1));
  const kind =
    wanted.length === findingKinds.length ? 'kind of finding' : wanted.length === figureNames.length ? 'figure' : last;
  const found = typeof issue.input === 'string' ? issue.input : undefined;
  const near = found === undefined ? null : nearestName(found, wanted);
  const named = found === undefined ? `expected a ${kind}` : `"${found}" is no ${kind}`;
  if (near !== null) return `${named}; did you mean "${near}"?`;
  return `${named}; one of ${wanted.join(', ')}`;
}

function lowerFirst(text: string): string {
  return text.slice(0, 1).toLowerCase() + text.slice(1);
}
