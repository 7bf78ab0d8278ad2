/** Intake from an MQTT broker: what machines' gateways publish. */

import { readFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { OperatingError } from '@warmbrick/runtime';
import type { IngestLogger } from '../ingest-types.js';
import type { Intake } from '../intake.js';
import type { IntakeRejectReason } from '../messages/reject-list.js';
import { openSession, type Session } from './mqtt-session.js';
import { type MqttSettings, type MqttSettingsInput, mqttSettingsSchema } from './mqtt-settings.js';
import { type MessageOutcome, type MessageTaker, type OnReject, takeMessages } from './take-messages.js';
import { parseTopicPattern } from './topic-pattern.js';

export interface MqttIntakeOptions extends MqttSettingsInput {
  readonly intake: Intake;
  readonly logger: IngestLogger;
  readonly onReject?: OnReject;
  /** The wall clock, UTC epoch ms. */
  readonly now?: () => number;
  /** From 0 to 1, for waits that differ between processes. */
  readonly random?: () => number;
}

export interface MqttIntakeStats {
  readonly isConnected: boolean;
  readonly connections: number;
  /** Messages that came to their end; one that comes again counts again. */
  readonly messages: number;
  readonly samples: number;
  readonly faultReports: number;
  readonly retries: number;
  readonly rejects: Readonly<Partial<Record<IntakeRejectReason, number>>>;
}

export interface MqttIntake {
  stats(): MqttIntakeStats;
  /** Finishes the messages in work, disconnects, and leaves the session with the broker. */
  stop(): Promise<void>;
}

/** Time that the messages in work get at the end, ms. Source: engineering judgement. */
const finishWithinMs = 10_000;

type Counts = { -readonly [K in keyof MqttIntakeStats]: MqttIntakeStats[K] } & {
  rejects: Partial<Record<IntakeRejectReason, number>>;
};

/**
 * Connects and takes messages until it is stopped; connects again after every failure, with waits that double.
 *
 * A message is acknowledged only after the intake has it, so none is lost; one may come twice, which changes nothing.
 * Errors: ZodError for settings that are wrong; OperatingError `bad-config` when `caFile` cannot be read.
 */
export function startMqttIntake(options: MqttIntakeOptions): MqttIntake {
  const { intake, logger, onReject = () => {}, now = Date.now, random = Math.random, ...given } = options;
  const settings = mqttSettingsSchema.parse(given);
  const counts: Counts = {
    isConnected: false,
    connections: 0,
    messages: 0,
    samples: 0,
    faultReports: 0,
    retries: 0,
    rejects: {},
  };
  const samples = parseTopicPattern(settings.topics.samples);
  const faults = parseTopicPattern(settings.topics.faults);
  const taker: MessageTaker = {
    intake,
    origin: { way: 'mqtt', name: settings.clientId },
    patterns: { samples, faults },
    logger,
    now,
    onReject,
    retry: {
      firstMs: settings.firstRetryMs,
      longestMs: settings.longestRetryMs,
      onRetry: () => {
        counts.retries++;
      },
    },
  };
  return run({ settings, taker, counts, random, filters: [samples.filter, faults.filter].map(shared(settings)) });
}

interface Runner {
  readonly settings: MqttSettings;
  readonly taker: MessageTaker;
  readonly counts: Counts;
  readonly random: () => number;
  readonly filters: readonly string[];
}

/** Source: MQTT 5.0, 4.8.2. */
function shared({ shareGroup }: MqttSettings): (filter: string) => string {
  return (filter) => (shareGroup === undefined ? filter : `$share/${shareGroup}/${filter}`);
}

function run({ settings, taker, counts, random, filters }: Runner): MqttIntake {
  const ca = settings.caFile === undefined ? undefined : readCertificates(settings.caFile);
  const stopping = new AbortController();
  let session: Session | null = null;

  const connectAgainAndAgain = async () => {
    let waitMs = settings.firstRetryMs;
    while (!stopping.signal.aborted) {
      session = openSession({
        settings,
        ca,
        filters,
        logger: taker.logger,
        onConnected: () => {
          counts.isConnected = true;
          counts.connections++;
        },
        take: async (messages, signal) => {
          const outcomes = await takeMessages(taker, messages, signal);
          for (const outcome of outcomes) addTo(counts, outcome);
          return outcomes;
        },
      });
      const cameAbout = await session.ended;
      counts.isConnected = false;
      if (cameAbout) waitMs = settings.firstRetryMs;
      // Half of it by chance, so that many processes do not come back at once.
      await sleep(waitMs * (0.5 + random() / 2), undefined, { signal: stopping.signal }).catch(() => {});
      waitMs = Math.min(waitMs * 2, settings.longestRetryMs);
    }
  };
  const running = connectAgainAndAgain();
  return {
    stats: () => ({ ...counts, rejects: { ...counts.rejects } }),
    async stop() {
      stopping.abort();
      await session?.finish(finishWithinMs);
      await Promise.race([running, sleep(finishWithinMs, undefined, { ref: false })]);
    },
  };
}

function addTo(counts: Counts, { samples, reports, rejects }: MessageOutcome): void {
  counts.messages++;
  counts.samples += samples;
  counts.faultReports += reports;
  for (const [reason, count] of rejects) counts.rejects[reason] = (counts.rejects[reason] ?? 0) + count;
}

function readCertificates(path: string): Buffer {
  try {
    return readFileSync(path);
  } catch (cause) {
    const reason = (cause as NodeJS.ErrnoException).code ?? 'unknown';
    throw new OperatingError(`The file of certificates cannot be read (${reason}).`, {
      code: 'bad-config',
      where: path,
      remedy: 'Check the path in caFile.',
      cause,
    });
  }
}
