/** The one line over the fleet: how many of what. */

import type { MachineItem } from '@warmbrick/contracts';
import { silentAfterMs } from '../format/freshness.js';
import { riskFrom } from '../format/score-words.js';

export const concerns = ['at-risk', 'long-idle', 'hot-stop', 'silent'] as const;
export type Concern = (typeof concerns)[number];

/** Whether a machine belongs to a concern. Units: `nowMs` epoch ms. */
export function hasConcern(machine: MachineItem, concern: Concern, nowMs: number): boolean {
  if (concern === 'at-risk') return (machine.score?.value ?? 0) >= riskFrom;
  if (concern === 'long-idle') return (machine.findingCounts['idle-streak'] ?? 0) > 0;
  if (concern === 'hot-stop') return (machine.findingCounts['hot-shutdown'] ?? 0) > 0;
  // A machine that was off when it was last heard is parked, which is no concern.
  return machine.mode !== 'off' && nowMs - Date.parse(machine.lastSampleAt) > silentAfterMs;
}

/** Number of machines in each concern; one machine can be in several. Units: `nowMs` epoch ms. */
export function countConcerns(machines: readonly MachineItem[], nowMs: number): Readonly<Record<Concern, number>> {
  const counts = { 'at-risk': 0, 'long-idle': 0, 'hot-stop': 0, silent: 0 };
  for (const machine of machines) {
    for (const concern of concerns) if (hasConcern(machine, concern, nowMs)) counts[concern] += 1;
  }
  return counts;
}

/** What a count says: "4 at risk". */
export function concernWords(concern: Concern, count: number): string {
  const words: Readonly<Record<Concern, string>> = {
    'at-risk': 'at risk',
    'long-idle': 'idled too long',
    'hot-stop': 'stopped hot',
    silent: 'silent, last seen running',
  };
  return `${count} ${words[concern]}`;
}

/** Whether a search text matches a machine's name, id, class or site; letters of any case, all words must match. */
export function matchesSearch(machine: MachineItem, text: string): boolean {
  const hay = `${machine.name} ${machine.machineId} ${machine.machineClass} ${machine.site ?? ''}`.toLowerCase();
  return text
    .toLowerCase()
    .split(/\s+/)
    .every((word) => hay.includes(word));
}
