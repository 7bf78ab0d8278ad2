/** Which files of the inbox are complete. */

import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';

export interface CompleteFiles {
  /** Names of complete files, sorted, given a time in ms that only rises. */
  look(nowMs: number): Promise<string[]>;
}

/** Names of files that somebody still writes under. Source: common practice of programs that copy. */
const unfinishedName = /^\.|\.(part|tmp|filepart|crdownload)$|~$/i;

/** Size and time of a file as one text; null when it is gone or no file. */
export async function fileState(path: string): Promise<string | null> {
  const found = await stat(path).catch(() => null);
  return found?.isFile() === true ? `${found.size} ${found.mtimeMs} ${found.ino}` : null;
}

/** Watches a folder: a file is complete when size and time stayed the same for `unchangedMs`. */
export function watchForComplete(inbox: string, unchangedMs: number): CompleteFiles {
  let seen = new Map<string, { state: string; sinceMs: number }>();
  return {
    async look(nowMs) {
      const still: typeof seen = new Map();
      const complete: string[] = [];
      for (const name of (await readdir(inbox)).sort()) {
        if (unfinishedName.test(name)) continue;
        const state = await fileState(join(inbox, name));
        if (state === null) continue;
        const before = seen.get(name);
        const entry = before?.state === state ? before : { state, sinceMs: nowMs };
        still.set(name, entry);
        if (nowMs - entry.sinceMs >= unchangedMs) complete.push(name);
      }
      seen = still;
      return complete;
    },
  };
}
