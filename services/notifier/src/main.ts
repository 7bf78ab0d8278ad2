/**
 * The notifier process: `node main.js` tells of alerts until it is stopped; `node main.js config explain` prints the settings. A
 * file of settings is named in WARMBRICK_CONFIG. Several processes may run; each message is one's at a time.
 */

import { createKafka, createProducer } from '@warmbrick/kafka';
import { createLogger, OperatingError, settingsText } from '@warmbrick/runtime';
import { openStore, openStorePatiently } from '@warmbrick/store';
import { explainNotifierConfig, readNotifierConfig } from './config.js';
import { startNotifier } from './start-notifier.js';

/** Exit codes: 0 stopped as asked, 1 a bug, 2 something the person can mend. */
const exitBug = 1;
const exitOperating = 2;
/** Time that stopping may take, in ms; then the process goes without ceremony. Source: engineering judgement. */
const stopTimeoutMs = 60_000;

const { WARMBRICK_CONFIG: file, ...env } = process.env;
const sources = file === undefined ? { env } : { env, file };

const undo: (() => Promise<unknown>)[] = [];
let isEnding = false;
/** Aborted when the process is asked to stop, so that nothing is waited for any longer. */
const stopping = new AbortController();

/** The one way out. */
async function end(code: number): Promise<void> {
  if (isEnding) return;
  isEnding = true;
  const timer = setTimeout(() => process.exit(code === 0 ? exitBug : code), stopTimeoutMs);
  try {
    for (let step = undo.pop(); step !== undefined; step = undo.pop()) await step();
  } catch (error) {
    process.stderr.write(`Stopping failed: ${String(error)}\n`);
  }
  clearTimeout(timer);
  process.exit(code);
}

function fail(error: unknown): void {
  if (isEnding) return;
  if (error instanceof OperatingError) process.stderr.write(`${error.toUserMessage()}\n`);
  else createLogger({ name: 'notifier' }).fatal({ err: error }, 'a bug ended the process');
  void end(error instanceof OperatingError ? exitOperating : exitBug);
}

async function run(): Promise<void> {
  const config = readNotifierConfig(sources);
  const logger = createLogger({ name: 'notifier', level: config.logLevel });
  const { databaseUrl: connectionString, storeWaitMs: waitMs } = config;
  const { signal } = stopping;
  const store = await openStorePatiently(() => openStore({ connectionString }), { logger, waitMs, signal });
  undo.push(() => store.close());
  const producer = await openProducer(config, logger);
  if (producer !== null) undo.push(() => producer.close());
  const { publicUrl, instanceName: owner } = config;
  const notifier = await startNotifier({ store, settings: config, logger, owner, publicUrl, producer });
  undo.push(() => notifier.stop());
  process.stdout.write(`${JSON.stringify({ ready: owner, pid: process.pid })}\n`);
}

async function openProducer(config: ReturnType<typeof readNotifierConfig>, logger: ReturnType<typeof createLogger>) {
  const { brokers, kafkaTls: ssl, kafkaUser: username, kafkaPassword: password, kafkaLogin: mechanism } = config;
  if (brokers === undefined) return null;
  const sasl = username === undefined || password === undefined ? {} : { sasl: { mechanism, username, password } };
  return createProducer(createKafka({ brokers, clientId: 'warmbrick-notifier', logger, ssl, ...sasl }));
}

const words = process.argv.slice(2).join(' ');
if (words === 'config explain') {
  try {
    process.stdout.write(settingsText(explainNotifierConfig(sources)));
  } catch (error) {
    fail(error);
  }
} else if (words !== '') {
  process.stderr.write(`"${words}" is no command; there is "config explain", and none to start.\n`);
  process.exit(exitOperating);
} else {
  process.on('uncaughtException', fail);
  process.on('unhandledRejection', fail);
  const starting = run().catch((error) => {
    if (!stopping.signal.aborted) fail(error);
  });
  const stop = () => {
    // The second time somebody means it.
    if (isEnding || stopping.signal.aborted) process.exit(exitBug);
    stopping.abort();
    void starting.then(() => end(0));
  };
  process.on('SIGTERM', stop);
  process.on('SIGINT', stop);
}
