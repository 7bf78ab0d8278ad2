/** Recorded cases: folders with a case file and the recordings it names. */

import { createHash } from 'node:crypto';
import { readdir, readFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { OperatingError } from '@warmbrick/runtime';
import { type MachineProfile, machineProfileSchema } from '@warmbrick/signals';
import { parse } from 'yaml';
import { z } from 'zod';

/** Cases at most. Source: engineering judgement. */
const mostCases = 500;

export interface ReplayCase {
  readonly name: string;
  /** Paths of the recordings, in the order they are read. */
  readonly recordings: readonly string[];
  readonly machines: Readonly<Record<string, MachineProfile>>;
  /** Changes when the case file or a recording does. */
  readonly fingerprint: string;
}

/** The part of a case file that loading needs; what is expected of the answer is a matter of the tests. */
const caseFileSchema = z.looseObject({
  recordings: z.array(z.string().min(1)).min(1),
  machines: z.record(z.string(), machineProfileSchema).default({}),
});

/** Folders that may be cases, by name; none when the folder is not there. */
export async function findCaseFolders(folder: string): Promise<string[]> {
  const entries = await readdir(folder, { withFileTypes: true }).catch(() => []);
  const folders = entries.filter((entry) => entry.isDirectory()).map((entry) => join(folder, entry.name));
  return folders.sort().slice(0, mostCases);
}

/**
 * Reads a case; null for a folder without a case file.
 *
 * Errors: OperatingError `bad-case` for a case file or a recording that cannot be used.
 */
export async function readCase(folder: string): Promise<ReplayCase | null> {
  const file = await readCaseFile(folder);
  if (file === null) return null;
  const parsed = caseFileSchema.safeParse(file.content);
  if (!parsed.success) throw badCase(file.path, z.prettifyError(parsed.error));
  const { recordings, machines } = parsed.data;
  const outside = recordings.find((name) => name !== basename(name));
  if (outside !== undefined) throw badCase(file.path, `"${outside}" is not the name of a file beside the case file`);
  const hash = createHash('sha256').update(file.text);
  const paths = recordings.map((name) => join(folder, name));
  for (const path of paths) hash.update(await readRecordingBytes(path));
  return { name: basename(folder), recordings: paths, machines, fingerprint: hash.digest('hex').slice(0, 16) };
}

async function readCaseFile(folder: string): Promise<{ path: string; text: string; content: unknown } | null> {
  for (const name of ['case.yaml', 'case.json']) {
    const path = join(folder, name);
    const text = await readFile(path, 'utf8').catch(() => null);
    if (text === null) continue;
    try {
      return { path, text, content: parse(text) };
    } catch (error) {
      throw badCase(path, (error as Error).message);
    }
  }
  return null;
}

async function readRecordingBytes(path: string): Promise<Buffer> {
  try {
    return await readFile(path);
  } catch (error) {
    throw badCase(path, (error as Error).message);
  }
}

function badCase(where: string, detail: string): OperatingError {
  return new OperatingError(detail, { code: 'bad-case', where, remedy: 'Correct the case file or remove the folder.' });
}
