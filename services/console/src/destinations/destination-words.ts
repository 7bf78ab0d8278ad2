/** What destinations and deliveries are told in. */

import type { DeliveryDocument, DestinationDocument } from '@warmbrick/contracts';

export const kindWords: Readonly<Record<DestinationDocument['kind'], string>> = {
  webhook: 'Webhook',
  mail: 'Mail',
  mqtt: 'MQTT topic',
};

export const severityWords: Readonly<Record<DestinationDocument['leastSeverity'], string>> = {
  info: 'everything',
  notice: 'notices and above',
  warning: 'warnings and above',
  severe: 'severe only',
};

const stateWords: Readonly<Record<DeliveryDocument['state'], string>> = {
  waiting: 'Waits',
  sent: 'Sent',
  dead: 'Given up',
};

/** How a delivery stands, with how often it was tried. */
export function deliveryWords({ state, attempts }: DeliveryDocument): string {
  if (attempts === 0) return `${stateWords[state]}, not tried yet`;
  return `${stateWords[state]} after ${attempts === 1 ? 'one try' : `${attempts} tries`}`;
}

/** What a destination hears of: its filters as one sentence. */
export function filterWords(destination: DestinationDocument): string {
  const { leastSeverity, sites, machineIds, rules, quiet, digestMinutes, includesPast } = destination;
  const list = (name: string, names: readonly string[]) => (names.length === 0 ? null : `${name} ${names.join(', ')}`);
  const parts = [
    severityWords[leastSeverity],
    list('sites', sites),
    list('machines', machineIds),
    list('rules', rules),
    quiet === null ? null : `quiet ${quiet.from}–${quiet.to} (${quiet.timeZone}) but for what is severe`,
    digestMinutes === null ? null : `one mail for each ${digestMinutes} min`,
    includesPast ? 'also what is about the past' : null,
  ];
  return parts.filter((part) => part !== null).join('; ');
}
