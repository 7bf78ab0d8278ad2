/** Settings of the all-in-one process. */

import { fileURLToPath } from 'node:url';
import { type ConfigSources, loadConfig, logLevels } from '@warmbrick/runtime';
import { defaultDataFolder } from '@warmbrick/store';
import { z } from 'zod';

/** Folders of the repository, seen from the built file and from the source alike. */
const repository = new URL('../../../', import.meta.url);

const schema = z.strictObject({
  /** Port of the page and the API. */
  port: z.number().int().min(0).max(65_535).default(8080),
  /** Address to listen on. Only loopback ones: there are no keys yet, so whoever can connect can read everything. */
  host: z
    .string()
    .refine(
      isLoopback,
      'only this computer itself may connect, as there are no keys yet: use 127.0.0.1, ::1 or localhost',
    )
    .default('127.0.0.1'),
  /** Folder of the embedded database. */
  dataDir: z.string().min(1).optional(),
  /** A PostgreSQL server to use in place of the embedded one. */
  databaseUrl: z.string().min(1).optional().meta({ secret: true }),
  /** Folder of recorded cases that are loaded at the first start. */
  replayData: z
    .string()
    .min(1)
    .default(fileURLToPath(new URL('replay-data', repository))),
  /** Whether simulated machines go on working in real time. */
  live: z.boolean().default(true),
  logLevel: z.enum(logLevels).default('warn'),
});

export interface AllInOneConfig {
  readonly port: number;
  readonly host: string;
  readonly dataDir: string;
  readonly databaseUrl: string | undefined;
  readonly replayData: string;
  readonly live: boolean;
  readonly logLevel: (typeof logLevels)[number];
  /** Folder of the built console. */
  readonly siteDir: string;
}

/**
 * Reads the settings from the environment: PORT, DATABASE_URL and WARMBRICK_HOST, _DATA_DIR, _REPLAY_DATA, _LIVE, _LOG_LEVEL.
 *
 * Errors: OperatingError `bad-config` that lists all problems at once.
 */
export function readConfig(env: ConfigSources['env']): AllInOneConfig {
  const config = loadConfig(schema, { env, envNames: { port: 'PORT', databaseUrl: 'DATABASE_URL' } });
  return {
    ...config,
    databaseUrl: config.databaseUrl,
    dataDir: config.dataDir ?? defaultDataFolder(),
    siteDir: fileURLToPath(new URL('services/console/dist/site', repository)),
  };
}

/** Source: RFC 1122, 3.2.1.3 (127.0.0.0/8) and RFC 4291, 2.5.3 (::1); RFC 6761, 6.3 for the name. */
function isLoopback(host: string): boolean {
  if (host === 'localhost' || host === '::1') return true;
  return /^127(\.(25[0-5]|2[0-4]\d|1?\d?\d)){3}$/.test(host);
}
