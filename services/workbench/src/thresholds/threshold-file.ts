/** Threshold sets from files. */

import { readFile } from 'node:fs/promises';
import { basename, extname } from 'node:path';
import { builtInThresholds, type ThresholdSet, thresholdNames, thresholdSetSchema } from '@warmbrick/analysis';
import { nearestName, OperatingError } from '@warmbrick/runtime';
import type { z } from 'zod';

/** Stands for the set in force until somebody promotes another. */
export const builtInName = 'built-in';

/** Bytes of a threshold file at most. Source: engineering judgement; all thresholds together are under 4 KiB. */
const mostBytes = 256 * 1024;

/**
 * Reads a threshold set: JSON, either `{"version": "...", "values": {...}}` or the values alone; what is not named has its
 * default, and without a version the set is named for its file. The name `built-in` is the built-in set.
 *
 * Errors: OperatingError `bad-threshold-set`, naming every problem and for a misspelt threshold the nearest known one.
 */
export async function readThresholdSet(path: string): Promise<ThresholdSet> {
  if (path === builtInName) return builtInThresholds;
  return thresholdSetOf(await readJson(path), path);
}

/** The set that a written value stands for; `where` names it in errors. Errors: as `readThresholdSet`. */
function thresholdSetOf(written: unknown, where: string): ThresholdSet {
  const isWhole = typeof written === 'object' && written !== null && ('values' in written || 'version' in written);
  const named = { version: basename(where, extname(where)).slice(0, 60) || 'unnamed' };
  const parsed = thresholdSetSchema.safeParse(isWhole ? { ...named, ...written } : { ...named, values: written });
  if (parsed.success) return parsed.data;
  throw new OperatingError(`${parsed.error.issues.flatMap(inWords).join('; ')}.`, {
    code: 'bad-threshold-set',
    where,
    remedy: 'Known thresholds with their units and bounds: warmbrick sets --known.',
  });
}

async function readJson(path: string): Promise<unknown> {
  const wrong = (message: string, remedy: string, cause: unknown) =>
    new OperatingError(message, { code: 'bad-threshold-set', where: path, remedy, cause });
  let text: string;
  try {
    text = await readFile(path, 'utf8');
  } catch (cause) {
    throw wrong('the threshold set cannot be read.', `Name a file, or "${builtInName}" for the built-in set.`, cause);
  }
  if (text.length > mostBytes) throw wrong('too long for a threshold set.', 'Name the file of a threshold set.', null);
  try {
    return JSON.parse(text);
  } catch (cause) {
    throw wrong(`not JSON: ${(cause as Error).message}.`, 'Write it as JSON, such as {"idleLimitS": 2400}.', cause);
  }
}

function inWords(issue: z.core.$ZodIssue): string[] {
  const isInValues = issue.path[0] === 'values';
  if (issue.code === 'unrecognized_keys') {
    const known = isInValues ? thresholdNames : ['version', 'values'];
    return issue.keys.map((key) => {
      const near = nearestName(key, known);
      return `there is no threshold "${key}"${near === null ? '' : `; did you mean ${near}?`}`;
    });
  }
  return [`${issue.path.slice(isInValues ? 1 : 0).join('.') || 'the set'}: ${issue.message}`];
}
