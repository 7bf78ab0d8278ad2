/**
 * The ingest process: `node main.js` reads from Kafka until it is stopped; `node main.js config explain` prints the settings.
 * A file of settings is named in WARMBRICK_CONFIG.
 */

import { createLogger, OperatingError } from '@warmbrick/runtime';
import { explainIngestConfig, readIngestConfig } from './config.js';
import { type IngestProcess, runIngest } from './run-ingest.js';

/** Exit codes: 0 stopped as asked, 1 a bug or a consumer beyond help, 2 something the person can mend. */
const exitFatal = 1;
const exitOperating = 2;
/** Beyond the limits of the parts, in ms; then the process goes without ceremony. Source: engineering judgement. */
const stopWithinMs = 60_000;

const { WARMBRICK_CONFIG: file, ...env } = process.env;
const sources = file === undefined ? { env } : { env, file };

let running: IngestProcess | null = null;
let isEnding = false;
/** Asked to stop before it was ready: what waits then need not go on. */
const stopping = new AbortController();

/** The one way out. */
async function end(code: number): Promise<void> {
  if (isEnding) return;
  isEnding = true;
  const timer = setTimeout(() => process.exit(code === 0 ? exitFatal : code), stopWithinMs);
  await running?.stop().catch((error: unknown) => process.stderr.write(`Stopping failed: ${String(error)}\n`));
  clearTimeout(timer);
  process.exit(code);
}

function fail(error: unknown): void {
  if (isEnding) return;
  if (error instanceof OperatingError) process.stderr.write(`${error.toUserMessage()}\n`);
  else createLogger({ name: 'ingest' }).fatal({ err: error }, 'a bug ended the process');
  const isMendable = error instanceof OperatingError && running === null;
  void end(isMendable ? exitOperating : exitFatal);
}

async function run(): Promise<void> {
  const config = readIngestConfig(sources);
  const logger = createLogger({ name: 'ingest', level: config.logLevel });
  const tell = (line: object) => void process.stdout.write(`${JSON.stringify(line)}\n`);
  running = await runIngest({
    config,
    logger,
    onFatal: fail,
    signal: stopping.signal,
    onAssigned: (partitions) => tell({ assigned: partitions.length }),
  });
  tell({ ready: config.instanceName, pid: process.pid, metricsPort: running.metricsPort });
}

function explain(): void {
  for (const { name, variable, value, origin, meaning } of explainIngestConfig(sources)) {
    const shown = value === undefined ? '(not set)' : typeof value === 'string' ? value : JSON.stringify(value);
    process.stdout.write(`${name} = ${shown}\n    from ${origin}; variable ${variable}\n    ${meaning}\n`);
  }
}

const words = process.argv.slice(2);
if (words.join(' ') === 'config explain') {
  try {
    explain();
  } catch (error) {
    fail(error);
  }
} else if (words.length > 0) {
  process.stderr.write(`"${words.join(' ')}" is no command; there is "config explain", and none to start reading.\n`);
  process.exit(exitOperating);
} else {
  process.on('uncaughtException', fail);
  process.on('unhandledRejection', fail);
  const starting = run().catch((error: unknown) => {
    if (!stopping.signal.aborted) fail(error);
  });
  const stop = () => {
    // The second time somebody means it.
    if (isEnding) process.exit(exitFatal);
    stopping.abort();
    void starting.then(() => end(0));
  };
  process.on('SIGTERM', stop);
  process.on('SIGINT', stop);
}
