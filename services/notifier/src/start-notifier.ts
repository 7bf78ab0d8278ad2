/** The notifier put together: plan, deliver, retire. */

import type { Producer } from '@warmbrick/kafka';
import type { Logger } from '@warmbrick/runtime';
import type { Store } from '@warmbrick/store';
import { type DeliverLimits, type DeliverOptions, deliverUntil, usualDeliverLimits } from './deliver.js';
import { createMailSender } from './mail/send-mail.js';
import { startMqttSender } from './mqtt-sender.js';
import type { NotifierSettings } from './notifier-settings.js';
import { createNudge } from './nudge.js';
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
  const { store, logger, owner, producer, settings } = options;
  const mqtt =
    settings.alertsMqttUrl === undefined
      ? null
      : await startMqttSender(
          settings.alertsMqttUrl,
          { username: settings.alertsMqttUsername, password: settings.alertsMqttPassword },
          logger,
        );
  const publicUrl = options.publicUrl.replace(/\/+$/, '');
  const mail =
    settings.smtpUrl === undefined
      ? null
      : createMailSender({ url: settings.smtpUrl, from: settings.mailFrom, host: new URL(publicUrl).hostname });
  const channels: Channels = {
    mail,
    mqtt: mqtt === null ? null : mqtt.send,
    isAllowed: addressGuard(settings.webhookAllowedRanges),
    webhookLimits: { ...usualWebhookLimits, ...options.webhook },
  };
  const stopping = new AbortController();
  const { signal } = stopping;
  const now = Date.now;
  const toPlan = createNudge();
  const toSend = createNudge();
  const onPlanned = (count: number) => {
    if (count > 0) toSend.poke();
    options.onPlanned?.(count);
  };
  // Whoever commits an alert says so, in this process or another.
  const feed = store.followAlerts(() => toPlan.poke());
  const running = [
    planUntil(
      {
        ...{ store, producer, publicUrl, owner, logger, now },
        limits: { ...usualPlanLimits, ...options.plan },
        onPlanned,
        nudge: toPlan,
      },
      signal,
    ),
    deliverUntil(
      {
        ...{ store, channels, owner, logger, now },
        limits: { ...usualDeliverLimits, ...options.deliver },
        schedule: { ...usualRetrySchedule, ...options.schedule },
        random: Math.random,
        nudge: toSend,
        onOutcome: options.onOutcome,
      },
      signal,
    ),
    retireUntil({ store, logger, now }, signal),
  ];
  return {
    async stop() {
      stopping.abort();
      await feed.stop();
      await Promise.all(running);
      mail?.close();
      await mqtt?.stop();
    },
  };
}
