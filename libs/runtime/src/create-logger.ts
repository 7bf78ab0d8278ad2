/** One way to log: JSON lines on stderr, constant messages, what varies in fields. */

import { destination, type Logger as PinoLogger, pino } from 'pino';

export type Logger = PinoLogger;

export const logLevels = ['trace', 'debug', 'info', 'warn', 'error', 'fatal', 'silent'] as const;
export type LogLevel = (typeof logLevels)[number];

export interface LoggerOptions {
  /** Which program writes; stands in every line. */
  readonly name: string;
  readonly level?: LogLevel;
}

/** A logger to stderr, so that stdout stays free for what a command prints; default level `info`. */
export function createLogger(options: LoggerOptions): Logger {
  const stderr = destination({ dest: 2, sync: true });
  const level = options.level ?? 'info';
  return pino({ name: options.name, level, base: { pid: process.pid }, timestamp: isoTime }, stderr);
}

function isoTime(): string {
  return `,"time":"${new Date().toISOString()}"`;
}
