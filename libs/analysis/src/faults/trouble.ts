/** Troubles: the episodes of one and the same fault, as it comes and goes and gets worse. */

import { describeFault, type FaultDescription, type FleetFaultTable } from './describe-fault.js';
import type { FaultEpisode } from './fault-episode.js';
import type { HoursMeter } from './hours-meter.js';

export interface Trouble {
  /** Where its last stretch without a real break began; what the inquiry names. */
  readonly anchor: FaultEpisode;
  readonly description: FaultDescription;
  /** All episodes, by start. */
  readonly episodes: readonly FaultEpisode[];
  /** Start of the first episode within the time that schedules look back. */
  readonly firstMs: number;
  readonly anchorMs: number;
  /** The anchor may have begun unseen any time since; null: any time at all. */
  readonly absentAtMs: number | null;
  readonly lastSeenMs: number;
  /** End of the last episode; null while it is active. */
  readonly endedMs: number | null;
  /** Whether it had gone before and come back. */
  readonly isRecurring: boolean;
  /** The worst failure mode it came to by the time of the derate is only a first warning. */
  readonly isMild: boolean;
}

/** Failure modes of one direction are one trouble that gets worse. Source: order of severity in SAE J1939-73. */
const highFmis: readonly number[] = [15, 16, 0];
const lowFmis: readonly number[] = [17, 18, 1];
/** So long after a derate a first list may still tell of what began it, ms. Source: engineering judgement. */
const unheardReachMs = 3 * 3_600_000;
/** Back within this many engine hours it has not been away. Source: engineering judgement. */
const unbrokenH = 0.5;
/** Back within this many it is the same trouble again. Source: the longest time of a repeat, domain notes 7. */
const recurringH = 40;

/**
 * The troubles known up to a time; codes that only say that power is taken, and those that never take any, are none.
 *
 * Shapes: episodes that began after `untilMs` are left out, unless their controller was not heard between the derate and them.
 */
export function troublesOf(
  faults: readonly FaultEpisode[],
  of: { derateMs: number; untilMs: number; meter: HoursMeter; fleetTable: FleetFaultTable },
): Trouble[] {
  const groups = new Map<string, FaultEpisode[]>();
  for (const fault of faults) {
    const { derates } = describeFault(fault.spn, fault.fmi, of.fleetTable);
    if (derates === 'never' || (fault.startedMs > of.untilMs && !mayHaveBegunBefore(fault, of.derateMs))) continue;
    const key = `${fault.sourceAddress ?? 'x'}.${fault.spn}.${direction(fault.fmi)}.${fault.conversionMethod}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [fault]);
    else group.push(fault);
  }
  return [...groups.values()]
    .map((group) => troubleOf(group, of.meter, of.fleetTable))
    .sort((a, b) => a.firstMs - b.firstMs || (a.anchor.id < b.anchor.id ? -1 : 1));
}

/** First heard after the derate, from a controller that had not been heard since before it. */
function mayHaveBegunBefore({ startedMs, absentAtMs }: FaultEpisode, derateMs: number): boolean {
  return absentAtMs !== null && absentAtMs < derateMs && startedMs <= derateMs + unheardReachMs;
}

function direction(fmi: number): string {
  return highFmis.includes(fmi) ? 'high' : lowFmis.includes(fmi) ? 'low' : String(fmi);
}

function troubleOf(group: FaultEpisode[], meter: HoursMeter, fleetTable: FleetFaultTable): Trouble {
  const episodes = group.sort((a, b) => a.startedMs - b.startedMs || (a.id < b.id ? -1 : 1));
  const last = episodes.at(-1) as FaultEpisode;
  let anchor = last;
  let firstMs = last.startedMs;
  let isUnbroken = true;
  let isRecurring = false;
  for (let i = episodes.length - 2; i >= 0; i--) {
    const episode = episodes[i] as FaultEpisode;
    if (episode.isPreviouslyActiveOnly) continue;
    const awayH = episode.endedMs === null ? 0 : meter.between(episode.endedMs, firstMs).hours;
    if (awayH > recurringH) break;
    isUnbroken &&= awayH <= unbrokenH;
    firstMs = episode.startedMs;
    if (isUnbroken) anchor = episode;
    else isRecurring = true;
  }
  const isOpen = episodes.some(({ endedMs }) => endedMs === null);
  const ends = episodes.map(({ endedMs }) => endedMs ?? 0);
  const described = episodes.map(({ spn, fmi }) => describeFault(spn, fmi, fleetTable));
  return {
    anchor,
    description: describeFault(anchor.spn, anchor.fmi, fleetTable),
    episodes,
    firstMs,
    anchorMs: anchor.startedMs,
    absentAtMs: anchor.absentAtMs,
    lastSeenMs: Math.max(...episodes.map(({ lastSeenMs }) => lastSeenMs)),
    endedMs: isOpen ? null : Math.max(...ends),
    isRecurring,
    isMild: described.every(({ isMild }) => isMild),
  };
}
