/** Where the data lives when nobody says otherwise. */

import { homedir } from 'node:os';
import { isAbsolute, join, resolve } from 'node:path';

export interface DataFolderContext {
  readonly env: Readonly<Record<string, string | undefined>>;
  readonly platform?: NodeJS.Platform;
  readonly home?: string;
  /** 0 for root; undefined where there are no user ids. */
  readonly uid?: number | undefined;
}

/**
 * The data folder: `WARMBRICK_DATA_DIR`, else the platform's place for application data.
 *
 * Root gets `/var/lib/warmbrick`: the database runs under another user, who may not enter root's home folder.
 * Source: XDG Base Directory Specification 0.8 (a relative XDG_DATA_HOME is to be ignored); FHS 3.0, 5.8.
 */
export function defaultDataFolder(context: DataFolderContext = currentContext()): string {
  const { env } = context;
  if (env.WARMBRICK_DATA_DIR) return resolve(env.WARMBRICK_DATA_DIR);
  const home = context.home ?? homedir();
  if (context.platform === 'darwin') return join(home, 'Library', 'Application Support', 'warmbrick');
  const xdg = env.XDG_DATA_HOME;
  if (xdg !== undefined && isAbsolute(xdg)) return join(xdg, 'warmbrick');
  if (context.uid === 0) return '/var/lib/warmbrick';
  return join(home, '.local', 'share', 'warmbrick');
}

function currentContext(): DataFolderContext {
  return { env: process.env, platform: process.platform, home: homedir(), uid: process.getuid?.() };
}
