/** Everything in one process: database, API with the page, pipeline, recorded cases and the live fleet. */

import type { AddressInfo } from 'node:net';
import { type AccessOptions, buildApp, createEventHub, type EventHub, prepareDoor } from '@warmbrick/alerts-api';
import { builtInThresholds } from '@warmbrick/analysis';
import {
  createIngest,
  createTelemetryReceiver,
  type Ingest,
  startAlertClock,
  startDerateInquirer,
  startInducementWatch,
  startServiceWatch,
  startStoreUpkeep,
} from '@warmbrick/ingest';
import { startNotifier } from '@warmbrick/notifier';
import { type Logger, OperatingError } from '@warmbrick/runtime';
import { quarryDozer, quarryFleet } from '@warmbrick/simulator';
import {
  type EmbeddedPostgres,
  openStore,
  openStorePatiently,
  type Store,
  startEmbeddedPostgres,
} from '@warmbrick/store';
import { type AllInOneConfig, isLoopback } from './config.js';
import { runLiveFleet } from './live-fleet.js';
import { loadReplays } from './load-replays.js';
import { watchMachines } from './watch-machines.js';
import { openIntake, startWaysIn } from './ways-in.js';

/** The invented fleet that goes on in real time. */
const liveMachines = [...quarryFleet, quarryDozer];

export interface StartOptions {
  readonly config: AllInOneConfig;
  readonly logger: Logger;
  /** Prints a line for the person who started it. */
  readonly say: (line: string) => void;
  /** Called when something that was started fails later on; what runs still has to be stopped. */
  readonly onFailure: (error: unknown) => void;
  /** Ends the waiting for a database that does not answer. */
  readonly signal?: AbortSignal;
}

export interface Running {
  /** Takes nothing more, commits what was taken, and stops everything in order. */
  stop(): Promise<void>;
  /** Stops the database at once, without a word; the next start recovers. */
  abandon(): void;
}

/**
 * Starts everything; resolves when the page is up. Recorded cases and the live fleet come in afterwards.
 *
 * Errors: OperatingError for whatever the person can mend: the port, the data folder, the database.
 */
export async function startAll(options: StartOptions): Promise<Running> {
  const { config, logger } = options;
  const undo: (() => Promise<unknown>)[] = [];
  const unwind = async () => {
    for (let step = undo.pop(); step !== undefined; step = undo.pop()) await step();
  };
  try {
    const embedded = await startDatabase(options);
    if (embedded !== null) undo.push(() => embedded.stop());
    const events = createEventHub();
    const storeConfig = {
      connectionString: embedded?.connectionString ?? config.databaseUrl ?? '',
      // In a database of others, other processes make alerts too, and all are followed there.
      alerting: { now: () => Date.now(), outbox: true, onEvents: embedded === null ? undefined : events.publishAlerts },
    };
    const waitMs = embedded === null ? config.storeWaitMs : 0;
    const store = await openStorePatiently(() => openStore(storeConfig), { logger, waitMs, signal: options.signal });
    undo.push(() => store.close());
    if (embedded === null) {
      const feed = store.followAlerts(events.publishAlerts);
      undo.push(() => feed.stop());
      const machines = watchMachines({ store, events, logger });
      undo.push(() => machines.stop());
    }
    const ingest = createIngest({
      store,
      thresholds: builtInThresholds,
      logger,
      onChange: (changes) => changes.forEach(events.publishChange),
    });
    const { intake, producer, stop: stopIntake } = await openIntake(config, { ingest, logger });
    undo.push(stopIntake);
    const app = await openApp(options, { store, events, ingest, telemetry: createTelemetryReceiver({ intake }) });
    undo.push(() => app.close());
    await listen(app, config);
    sayWhere(options, app.server.address() as AddressInfo, embedded);
    const publicUrl = config.publicUrl ?? addressOf(app.server.address() as AddressInfo);
    const notifier = await startNotifier({ store, settings: config, logger, owner: 'all-in-one', publicUrl, producer });
    undo.push(() => notifier.stop());
    const upkeep = startStoreUpkeep({ store, logger });
    undo.push(() => upkeep.stop());
    const clock = startAlertClock({ store, logger });
    undo.push(() => clock.stop());
    const service = startServiceWatch({ store, logger });
    undo.push(() => service.stop());
    const inducement = startInducementWatch({ store, logger });
    undo.push(() => inducement.stop());
    const inquirer = startDerateInquirer({ store, logger });
    undo.push(() => inquirer.stop());
    const feeding = startFeeding(options, { store, ingest });
    undo.push(() => feeding.stop());
    undo.push(...(await startWaysIn(config, { intake, store, producer, logger, say: options.say })));
    return { stop: once(unwind), abandon: () => abandonDatabase(embedded) };
  } catch (error) {
    await unwind();
    throw error;
  }
}

async function startDatabase({ config, logger, onFailure }: StartOptions): Promise<EmbeddedPostgres | null> {
  if (config.databaseUrl !== undefined) return null;
  return startEmbeddedPostgres({ dataDir: config.dataDir, logger, onGiveUp: onFailure });
}

interface AppParts {
  readonly store: Store;
  readonly events: EventHub;
  readonly ingest: Ingest;
  readonly telemetry: ReturnType<typeof createTelemetryReceiver>;
}

/** The page and the API, not listening yet. Errors: OperatingError `no-keys`. */
async function openApp(options: StartOptions, { store, events, ingest, telemetry }: AppParts) {
  const { config, logger } = options;
  return buildApp({
    store,
    logger,
    events,
    siteDir: config.siteDir,
    hostNames: hostNames(config),
    telemetry,
    access: await openDoor(options, store),
    onProfile: ingest.register,
  });
}

/** Other names are turned away, so that a foreign page cannot point its own name at us. */
function hostNames({ host, hostNames: given }: AllInOneConfig): readonly string[] | undefined {
  return isLoopback(host) ? ['localhost', '::1', '[::1]', '127.0.0.1', host, ...(given ?? [])] : given;
}

/** Who gets in, and a key for the first of them where others than this computer can connect. Errors: OperatingError `no-keys`. */
async function openDoor({ config, say }: StartOptions, store: Store): Promise<AccessOptions> {
  const isLocal = isLoopback(config.host);
  const { oidcIssuer: issuer, oidcAudience: audience, printAdminKey: isKeyWanted } = config;
  const key = await prepareDoor({ store, isLocal, hasTokens: issuer !== undefined, isKeyWanted });
  // On stdout and nowhere else: what is logged is kept.
  if (key !== null) say(`A key for an administrator, shown this once; keep it safe:\n\n    ${key}\n`);
  if (issuer === undefined || audience === undefined) return { isLocalOpen: isLocal };
  const { oidcKeysUrl: keysUrl, oidcRoleClaim: roleClaim, oidcFleetsClaim: fleetsClaim } = config;
  return { isLocalOpen: isLocal, tokens: { issuer, audience, keysUrl, roleClaim, fleetsClaim } };
}

async function listen(app: Awaited<ReturnType<typeof buildApp>>, { host, port }: AllInOneConfig): Promise<void> {
  try {
    await app.listen({ host, port });
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code !== 'EADDRINUSE' && code !== 'EACCES') throw error;
    const isTaken = code === 'EADDRINUSE';
    throw new OperatingError(
      `Port ${port} of ${host} ${isTaken ? 'is in use by another program' : 'is not ours to use'}.`,
      {
        code: isTaken ? 'port-in-use' : 'port-not-allowed',
        remedy: 'Stop the other program, or choose another port, such as PORT=8081 npm start.',
        cause: error,
      },
    );
  }
}

function sayWhere({ config, say }: StartOptions, address: AddressInfo, embedded: EmbeddedPostgres | null): void {
  say(`Warmbrick is at ${addressOf(address)}/  (Ctrl+C stops it)`);
  say(embedded === null ? 'Data lives in the database of DATABASE_URL.' : `Data lives in ${config.dataDir}`);
}

function addressOf({ family, address, port }: AddressInfo): string {
  return `http://${family === 'IPv6' ? `[${address}]` : address}:${port}`;
}

/** Loads the cases, then runs the live fleet, until stopped. */
function startFeeding({ config, say, onFailure }: StartOptions, to: { store: Store; ingest: Ingest }) {
  const stopping = new AbortController();
  const { signal } = stopping;
  const feed = async () => {
    const startedMs = performance.now();
    say(`Loading recorded cases of ${config.replayData} ...`);
    const onSkipped = (error: OperatingError) => say(`Skipped: ${error.toUserMessage()}`);
    const loaded = await loadReplays({ ...to, folder: config.replayData, signal, onSkipped });
    const seconds = ((performance.now() - startedMs) / 1000).toFixed(1);
    say(`Loaded ${loaded.cases} cases (${loaded.known} known before): ${loaded.samples} samples in ${seconds} s.`);
    if (!config.live || signal.aborted) return;
    say(
      `Simulating ${liveMachines.length} machines of an invented quarry, first what they missed, at most 36 hours ...`,
    );
    const onCaughtUp = (samples: number) => say(`The simulated machines are live (${samples} samples caught up on).`);
    await runLiveFleet({ ...to, machines: liveMachines, signal, onCaughtUp });
  };
  const feeding = feed().catch((error: unknown) => {
    // While stopping, the pipeline turns away what is still on its way.
    if (!signal.aborted) onFailure(error);
  });
  return {
    async stop() {
      stopping.abort();
      // Together: a batch that waits for a store that is away would otherwise keep both waiting.
      await Promise.all([feeding, to.ingest.close()]);
    },
  };
}

function abandonDatabase(embedded: EmbeddedPostgres | null): void {
  const pid = embedded?.pid() ?? null;
  if (pid === null) return;
  try {
    // PostgreSQL's immediate shutdown.
    process.kill(pid, 'SIGQUIT');
  } catch {
    // It has ended by itself.
  }
}

function once(job: () => Promise<void>): () => Promise<void> {
  let running: Promise<void> | null = null;
  return () => {
    running ??= job();
    return running;
  };
}
