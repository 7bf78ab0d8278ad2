/** `npm start`: the whole of Warmbrick in one process. `node main.js config explain` prints the settings. */

import { createLogger, OperatingError, settingsText } from '@warmbrick/runtime';
import { explainAllInOneConfig, readConfig } from './config.js';
import { type Running, startAll } from './start-all.js';

/** Exit codes: 0 stopped as asked, 1 a bug, 2 something the person can mend. */
const exitBug = 1;
const exitOperating = 2;
/** Time that stopping may take, in ms; then the process goes without ceremony. Source: engineering judgement. */
const stopTimeoutMs = 60_000;

let running: Running | null = null;
let isAskedToStop = false;
const stopping = new AbortController();
let isEnding = false;

/** The one way out: stops what runs, says why, and ends the process. */
async function end(code: number, say?: () => void): Promise<void> {
  if (isEnding) return;
  isEnding = true;
  say?.();
  const timer = setTimeout(() => endNow(code === 0 ? exitBug : code), stopTimeoutMs);
  await running?.stop().catch((error: unknown) => {
    process.stderr.write(`Stopping failed: ${error instanceof Error ? error.message : String(error)}\n`);
    running?.abandon();
  });
  clearTimeout(timer);
  process.exit(code);
}

function endNow(code: number): never {
  running?.abandon();
  process.exit(code);
}

function fail(error: unknown): void {
  if (error instanceof OperatingError) {
    void end(exitOperating, () => process.stderr.write(`${error.toUserMessage()}\n`));
    return;
  }
  void end(exitBug, () => createLogger({ name: 'all-in-one' }).fatal({ err: error }, 'a bug ended the process'));
}

function stopOnSignal(signal: 'SIGINT' | 'SIGTERM'): void {
  process.on(signal, () => {
    // The second time somebody means it.
    if (isAskedToStop || isEnding) endNow(signal === 'SIGINT' ? 130 : 143);
    isAskedToStop = true;
    stopping.abort();
    process.stdout.write('Stopping ...\n');
    void starting.finally(() => end(0));
  });
}

async function start(): Promise<void> {
  try {
    const config = readConfig(process.env);
    const logger = createLogger({ name: 'all-in-one', level: config.logLevel });
    const say = (line: string) => void process.stdout.write(`${line}\n`);
    running = await startAll({ config, logger, say, onFailure: fail, signal: stopping.signal });
  } catch (error) {
    if (!isAskedToStop) fail(error);
  }
}

function explain(): void {
  try {
    process.stdout.write(settingsText(explainAllInOneConfig(process.env)));
  } catch (error) {
    fail(error);
  }
}

process.on('uncaughtException', fail);
process.on('unhandledRejection', fail);
const words = process.argv.slice(2).join(' ');
if (words !== '' && words !== 'config explain') {
  process.stderr.write(`"${words}" is no command; there is "config explain", and none to start everything.\n`);
  process.exit(exitOperating);
}
const starting = words === '' ? start() : Promise.resolve(explain());
if (words === '') {
  stopOnSignal('SIGINT');
  stopOnSignal('SIGTERM');
}
