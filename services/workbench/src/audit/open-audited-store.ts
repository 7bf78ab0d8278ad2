/** The store to audit: the server of DATABASE_URL, or the embedded one of a data folder. */

import { existsSync } from 'node:fs';
import { OperatingError } from '@warmbrick/runtime';
import { defaultDataFolder, openStore, type Store, startEmbeddedPostgres } from '@warmbrick/store';

export interface AuditedStore {
  readonly store: Store;
  /** Where it is, in words. */
  readonly name: string;
  close(): Promise<void>;
}

/**
 * Opens the store. A named data folder wins over DATABASE_URL; without either it is the usual data folder.
 *
 * Errors: OperatingError `no-data-folder` for a folder that is not there, since an audit must not make one; those of the
 * store, such as a folder that another process holds.
 */
export async function openAuditedStore(dataDir: string | undefined, env: NodeJS.ProcessEnv): Promise<AuditedStore> {
  const url = env.DATABASE_URL;
  if (dataDir === undefined && url !== undefined && url !== '') {
    const store = await openStore({ connectionString: url });
    return { store, name: 'the database of DATABASE_URL', close: () => store.close() };
  }
  const folder = dataDir ?? defaultDataFolder();
  if (!existsSync(folder)) {
    throw new OperatingError('There is no data folder here.', {
      code: 'no-data-folder',
      where: folder,
      remedy: 'Name the folder with --data-dir, or the database in DATABASE_URL.',
    });
  }
  const server = await startEmbeddedPostgres({ dataDir: folder });
  try {
    const store = await openStore({ connectionString: server.connectionString });
    const close = async () => {
      await store.close();
      await server.stop();
    };
    return { store, name: folder, close };
  } catch (error) {
    await server.stop();
    throw error;
  }
}
