/** Settings of the all-in-one process. */

import { fileURLToPath } from 'node:url';
import { notifierSettingsShape } from '@warmbrick/notifier';
import {
  type ConfigSources,
  type ExplainedSetting,
  explainConfig,
  loadConfig,
  logLevels,
  OperatingError,
} from '@warmbrick/runtime';
import { defaultDataFolder } from '@warmbrick/store';
import { z } from 'zod';

/** Folders of the repository, seen from the built file and from the source alike. */
const repository = new URL('../../../', import.meta.url);

const text = z.string().min(1);
const address = z.string().regex(/^[^\s:]+:\d{1,5}$|^\[[0-9a-f:]+\]:\d{1,5}$/i, 'expected host:port');

const schema = z.strictObject({
  port: z.number().int().min(0).max(65_535).default(8080).meta({ description: 'Port of the page and the API.' }),
  host: text.default('127.0.0.1').meta({
    description: 'Address to listen on. Where others than this computer can connect, everybody needs a key.',
  }),
  hostNames: z
    .array(text)
    .min(1)
    .optional()
    .meta({ description: 'Names under which it is reached, without port; others are turned away. Default: any.' }),
  printAdminKey: z
    .boolean()
    .default(false)
    .meta({ description: 'Whether to make a new key for an admin and print it once, such as when all are lost.' }),
  oidcIssuer: z.url().optional().meta({ description: 'Identity provider whose bearer tokens are taken as well.' }),
  oidcAudience: text.optional().meta({ description: 'Audience that its tokens must be for; needed with the issuer.' }),
  oidcKeysUrl: z.url().optional().meta({ description: 'Where its keys are, if its configuration does not say.' }),
  oidcRoleClaim: text.default('roles').meta({ description: 'Claim with the role: viewer, analyst, engineer, admin.' }),
  oidcFleetsClaim: text.default('fleets').meta({ description: 'Claim with the fleets; * is all of them.' }),
  dataDir: text.optional().meta({ description: "Folder of the embedded database; the user's data folder if not set." }),
  databaseUrl: text
    .optional()
    .meta({ secret: true, description: 'A PostgreSQL server to use in place of the embedded one.' }),
  storeWaitMs: z
    .number()
    .int()
    .min(0)
    .default(300_000)
    .meta({ description: 'How long the start waits for a server at DATABASE_URL that does not answer, ms.' }),
  replayData: text
    .default(fileURLToPath(new URL('replay-data', repository)))
    .meta({ description: 'Folder of recorded cases that are loaded at the first start.' }),
  live: z.boolean().default(true).meta({ description: 'Whether simulated machines go on working in real time.' }),
  brokers: z.array(address).min(1).optional().meta({
    description: 'Kafka brokers as host:port. With them what comes in is produced; the ingest process reads it.',
  }),
  inboxDir: text.optional().meta({ description: 'Folder whose "inbox" takes recordings that are dropped into it.' }),
  mqttUrl: z
    .url({ protocol: /^(mqtts?|wss?)$/ })
    .optional()
    .meta({ description: 'MQTT broker that gateways publish to, such as mqtts://broker.example:8883.' }),
  mqttClientId: text.default('warmbrick').meta({ description: 'Name of our session at that broker.' }),
  mqttUsername: text.optional().meta({ description: 'User at that broker.' }),
  mqttPassword: text.optional().meta({ secret: true, description: 'Password of that user.' }),
  feedsFile: text
    .optional()
    .meta({ description: 'JSON file with a list of ISO 15143-3 providers; see services/ingest/README.md.' }),
  publicUrl: z
    .url({ protocol: /^https?$/ })
    .optional()
    .meta({
      description: 'Address under which people reach the pages, for links in messages; default: where it listens.',
    }),
  ...notifierSettingsShape,
  logLevel: z.enum(logLevels).default('warn').meta({ description: 'Least important kind of line that is logged.' }),
});

export type AllInOneConfig = Omit<z.output<typeof schema>, 'dataDir'> & {
  readonly dataDir: string;
  /** Folder of the built console. */
  readonly siteDir: string;
};

const envNames = { port: 'PORT', databaseUrl: 'DATABASE_URL' };

/**
 * Reads the settings from the environment: PORT, DATABASE_URL and WARMBRICK_HOST, _DATA_DIR, _REPLAY_DATA, _LIVE and so on.
 *
 * Errors: OperatingError `bad-config` that lists all problems at once.
 */
export function readConfig(env: ConfigSources['env']): AllInOneConfig {
  const config = loadConfig(schema, { env, envNames });
  if ((config.oidcIssuer === undefined) !== (config.oidcAudience === undefined)) throw halfAnIssuer();
  return {
    ...config,
    dataDir: config.dataDir ?? defaultDataFolder(),
    siteDir: fileURLToPath(new URL('services/console/dist/site', repository)),
  };
}

/** Every setting with its value, where that came from and what it means. Errors: as `readConfig`. */
export function explainAllInOneConfig(env: ConfigSources['env']): ExplainedSetting[] {
  return explainConfig(schema, { env, envNames });
}

/** Whether nobody but this computer itself can connect. Source: RFC 1122, 3.2.1.3 (127.0.0.0/8); RFC 4291, 2.5.3 (::1); RFC 6761, 6.3 (the name). */
export function isLoopback(host: string): boolean {
  if (host === 'localhost' || host === '::1') return true;
  return /^127(\.(25[0-5]|2[0-4]\d|1?\d?\d)){3}$/.test(host);
}

function halfAnIssuer(): OperatingError {
  return new OperatingError('WARMBRICK_OIDC_ISSUER and WARMBRICK_OIDC_AUDIENCE belong together; one is missing.', {
    code: 'bad-config',
    remedy: 'Set both: a token for somebody else must not be good here.',
  });
}
