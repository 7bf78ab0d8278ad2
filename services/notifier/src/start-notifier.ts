/** The notifier put together: plan, deliver, retire. */

import type { Producer } from '@warmbrick/kafka';
import type { Logger } from '@warmbrick/runtime';
import type { Store } from '@warmbrick/store';
import { type DeliverLimits, type DeliverOptions, deliverUntil, usualDeliverLimits } from './deliver.js';
import { createMailSender } from './mail/send-mail.js';
import { startMqttSender } from './mqtt-sender.js';
import type { NotifierSettings } from './notifier-settings.js';
import { createNudge, type Nudge } from './nudge.js';
import { type PlanLimits, planUntil, usualPlanLimits } from './plan-deliveries.js';
import { retireUntil } from './retire-deliveries.js';
import { type RetrySchedule, usualRetrySchedule } from './retry-schedule.js';
import type { Channels } from './send-delivery.js';
import { addressGuard } from './webhook/address-guard.js';
import { usualWebhookLimits, type WebhookLimits } from './webhook/post-webhook.js';

export interface NotifierOptions {
  readonly store: Store;
  readonly settings: NotifierSettings;
  readonly logger: Logger;
  /** Name of the process, for whoever looks into the tables. */
  readonly owner: string;
  /** Address under which people reach the service. */
  readonly publicUrl: string;
  /** Of the topic of alerts; null where no brokers are configured. */
  readonly producer: Pick<Producer, 'send'> | null;
  readonly plan?: Partial<PlanLimits>;
  readonly deliver?: Partial<DeliverLimits>;
  readonly schedule?: Partial<RetrySchedule>;
  readonly webhook?: Partial<WebhookLimits>;
  readonly onPlanned?: (count: number) => void;
  readonly onOutcome?: DeliverOptions['onOutcome'];
}

export interface Notifier {
  /** Starts nothing new and resolves when what is under way has ended. */
  stop(): Promise<void>;
}

/** Starts it. Errors: OperatingError when the MQTT broker does not answer. */
export async function startNotifier(options: NotifierOptions): Promise<Notifier> {
  const { store } = options;
  const ways = await openWays(options);
  const stopping = new AbortController();
  const toPlan = createNudge();
  // Whoever commits an alert says so, in this process or another.
  const feed = store.followAlerts(() => toPlan.poke());
  const running = startLoops(options, { channels: ways.channels, toPlan, signal: stopping.signal });
  return {
    async stop() {
      stopping.abort();
      await feed.stop();
      await Promise.all(running);
      await ways.close();
    },
  };
}

/** What messages go out through. */
async function openWays({ settings, logger, publicUrl, webhook }: NotifierOptions) {
  const {
    alertsMqttUrl: url,
    alertsMqttUsername: username,
    alertsMqttPassword: password,
    smtpUrl,
    mailFrom,
  } = settings;
  const mqtt = url === undefined ? null : await startMqttSender(url, { username, password }, logger);
  const host = new URL(publicUrl).hostname;
  const mail = smtpUrl === undefined ? null : createMailSender({ url: smtpUrl, from: mailFrom, host });
  const channels: Channels = {
    mail,
    mqtt: mqtt === null ? null : mqtt.send,
    isAllowed: addressGuard(settings.webhookAllowedRanges),
    webhookLimits: { ...usualWebhookLimits, ...webhook },
  };
  return {
    channels,
    async close() {
      mail?.close();
      await mqtt?.stop();
    },
  };
}

interface LoopParts {
  readonly channels: Channels;
  readonly toPlan: Nudge;
  readonly signal: AbortSignal;
}

/** Planning, sending and clearing away, each until the signal. */
function startLoops(options: NotifierOptions, { channels, toPlan, signal }: LoopParts): Promise<void>[] {
  const { store, logger, owner, producer, onOutcome } = options;
  const shared = { store, owner, logger, now: Date.now };
  const toSend = createNudge();
  const onPlanned = (count: number) => {
    if (count > 0) toSend.poke();
    options.onPlanned?.(count);
  };
  const publicUrl = options.publicUrl.replace(/\/+$/, '');
  const plan = { ...shared, producer, publicUrl, limits: { ...usualPlanLimits, ...options.plan }, onPlanned };
  const deliver = {
    ...{ ...shared, channels, onOutcome, random: Math.random },
    limits: { ...usualDeliverLimits, ...options.deliver },
    schedule: { ...usualRetrySchedule, ...options.schedule },
  };
  return [
    planUntil({ ...plan, nudge: toPlan }, signal),
    deliverUntil({ ...deliver, nudge: toSend }, signal),
    retireUntil(shared, signal),
  ];
}
