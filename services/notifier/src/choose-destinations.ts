/** Who hears of a step of an alert's life. */

import type { AlertMessage } from '@warmbrick/contracts';
import type { Destination, MachinePlace } from '@warmbrick/store';

/** From least to most urgent, as contracts list them. */
const rank: Readonly<Record<AlertMessage['severity'], number>> = { info: 0, notice: 1, warning: 2, severe: 3 };

/** Steps that begin something for the one who hears of it; all others go on with what was heard before. */
const beginnings: readonly AlertMessage['step'][] = ['opened', 'worsened', 'reopened', 'caught-up', 'escalated'];

/** A destination that hears of a step. */
export interface Hearer {
  readonly destination: Destination;
  /** It hears of this step only if it has heard of the alert before. */
  readonly onlyIfHeard: boolean;
}

/**
 * The destinations that hear of a step.
 *
 * Steps that are only for the record are told to nobody, but of alerts about the past to those who asked for them. An escalation that
 * names somebody goes to the destination of that name or id, whatever its filters; where there is none, to all that fit.
 */
export function hearersOf(
  message: AlertMessage,
  place: MachinePlace | undefined,
  destinations: readonly Destination[],
): Hearer[] {
  const own = destinations.filter(({ isEnabled, fleetId }) => isEnabled && fleetId === (place?.fleetId ?? 'main'));
  const named = own.filter(({ id, name }) => message.escalateTo === id || message.escalateTo === name);
  if (named.length > 0) return named.map((destination) => ({ destination, onlyIfHeard: false }));
  return own
    .filter((destination) => fits(message, destination))
    .map((destination) => ({
      destination,
      onlyIfHeard: !beginnings.includes(message.step) || rank[message.severity] < rank[destination.leastSeverity],
    }));
}

function fits(message: AlertMessage, destination: Destination): boolean {
  const { sites, machineIds, rules, includesPast, leastSeverity } = destination;
  const isPastNews = message.quietBecause === 'past' && includesPast;
  if (message.notice === 'quiet' && !isPastNews) return false;
  if (sites.length > 0 && !sites.includes(message.group.site ?? '')) return false;
  if (machineIds.length > 0 && !machineIds.includes(message.machineId)) return false;
  if (rules.length > 0 && !rules.includes(message.rule)) return false;
  // One that fell below the level still has to be called off where it was called out.
  return rank[message.severity] >= rank[leastSeverity] || !beginnings.includes(message.step);
}
