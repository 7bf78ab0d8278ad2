/** Machine profiles of a replay: one for all, or some by machine. */

import { readFile } from 'node:fs/promises';
import { OperatingError } from '@warmbrick/runtime';
import { type MachineProfile, machineProfileSchema } from '@warmbrick/signals';
import { z } from 'zod';

/** `{ "default": {...}, "machines": { "loader-1": {...} } }`; a machine's profile lies over the default. */
const bookSchema = z.strictObject({
  default: z.record(z.string(), z.unknown()).default({}),
  machines: z.record(z.string(), z.record(z.string(), z.unknown())).default({}),
});

export interface ProfileBook {
  profileOf(machineId: string): MachineProfile;
}

/** The book in which every machine has the built-in profile. */
export const plainProfiles: ProfileBook = bookOf({ default: {}, machines: {} }, 'built-in profile');

/**
 * Reads a profile file: JSON, either the fields of one profile for all machines, or a default and profiles by machine.
 *
 * Errors: OperatingError `bad-profile` naming the field, what was expected and what to do.
 */
export async function readProfileBook(path: string): Promise<ProfileBook> {
  const value = await readJson(path);
  const isBook = typeof value === 'object' && value !== null && ('default' in value || 'machines' in value);
  const parsed = bookSchema.safeParse(isBook ? value : { default: value });
  if (!parsed.success) throw badProfile(path, parsed.error);
  return bookOf(parsed.data, path);
}

async function readJson(path: string): Promise<unknown> {
  let text: string;
  try {
    text = await readFile(path, 'utf8');
  } catch (cause) {
    throw new OperatingError('the profile cannot be read.', {
      code: 'bad-profile',
      where: path,
      remedy: 'Check the path given to --profile.',
      cause,
    });
  }
  try {
    return JSON.parse(text);
  } catch (cause) {
    const remedy = 'Write the profile as JSON, such as {"baseIdleRpm": 900}.';
    throw new OperatingError(`not JSON: ${(cause as Error).message}.`, { code: 'bad-profile', where: path, remedy });
  }
}

function bookOf(book: z.output<typeof bookSchema>, path: string): ProfileBook {
  const check = (fields: Record<string, unknown>, where: string): MachineProfile => {
    const parsed = machineProfileSchema.safeParse(fields);
    if (!parsed.success) throw badProfile(where, parsed.error);
    return parsed.data;
  };
  const usual = check(book.default, path);
  const own = new Map(
    Object.entries(book.machines).map(([id, fields]) => [
      id,
      check({ ...book.default, ...fields }, `${path}, machine ${id}`),
    ]),
  );
  return { profileOf: (machineId) => own.get(machineId) ?? usual };
}

function badProfile(where: string, error: z.ZodError): OperatingError {
  const problems = error.issues.map((issue) => `${issue.path.join('.') || 'profile'}: ${issue.message}`);
  return new OperatingError(`${problems.join('; ')}.`, {
    code: 'bad-profile',
    where,
    remedy: 'Known fields with their units and bounds: warmbrick channels --profile.',
  });
}
