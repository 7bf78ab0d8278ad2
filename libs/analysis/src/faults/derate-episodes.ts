/** From signs to derate episodes: findings of the detector and codes that say "power reduced", joined where they touch. */

import type { MachineProfile } from '@warmbrick/signals';
import { setting } from '@warmbrick/signals';
import { z } from 'zod';
import { rounded } from '../figures.js';
import type { Finding } from '../finding.js';
import type { DerateEpisode, DerateLevel, DerateSign } from './derate-episode.js';
import { describeFault, type FaultDescription, type FleetFaultTable } from './describe-fault.js';
import type { FaultEpisode } from './fault-episode.js';
import type { InducementClass } from './inducement-class.js';

export const derateSettingsSchema = z.strictObject({
  /** Signs that are nearer than this belong to one derate. */
  joinS: setting(900, {
    unit: 's',
    min: 0,
    max: 86_400,
    source: 'engineering judgement: code and broadcast come from different controllers',
  }),
});
export type DerateSettings = z.output<typeof derateSettingsSchema>;

export interface DerateConfig {
  readonly profile: Pick<MachineProfile, 'ratedPowerKW'>;
  readonly fleetTable?: FleetFaultTable;
  readonly settings?: DerateSettings;
}

export const builtInDerateSettings: DerateSettings = derateSettingsSchema.parse({});

/** One sign with its time. */
interface Stretch {
  readonly startedMs: number;
  readonly endedMs: number | null;
  readonly signs: readonly DerateSign[];
  readonly finding: Finding | null;
  readonly code: FaultEpisode | null;
}

/**
 * Derates of one machine.
 *
 * Shapes: findings of other kinds and faults that are no derate codes are passed over; the order of either does not matter.
 * Missing: a code alone makes an episode of unclear level; what was told as previously active makes none.
 */
export function derateEpisodes(
  findings: readonly Finding[],
  faults: readonly FaultEpisode[],
  config: DerateConfig,
): DerateEpisode[] {
  const { joinS } = config.settings ?? builtInDerateSettings;
  const stretches = [...findings.flatMap(stretchOfFinding), ...faults.flatMap((fault) => stretchOfCode(fault, config))];
  stretches.sort((a, b) => a.startedMs - b.startedMs || nameOf(a).localeCompare(nameOf(b), 'en'));
  const groups: Stretch[][] = [];
  let endMs = Number.NEGATIVE_INFINITY;
  for (const stretch of stretches) {
    const group = groups.at(-1);
    if (group !== undefined && stretch.startedMs <= endMs + joinS * 1000) group.push(stretch);
    else groups.push([stretch]);
    const reach = stretch.endedMs ?? Number.POSITIVE_INFINITY;
    endMs = group !== undefined && groups.at(-1) === group ? Math.max(endMs, reach) : reach;
  }
  return groups.map((group) => episodeOf(group, faults, config));
}

function stretchOfFinding(finding: Finding): Stretch[] {
  if (finding.kind !== 'derate') return [];
  const { startedMs, endedMs, evidence } = finding;
  const signs = (
    [
      ['inducement-severity', evidence.bySeverity],
      ['torque-limit', evidence.byTorqueLimit],
      ['derate-request', evidence.byRequest],
      ['torque-mode', evidence.byTorqueMode],
    ] as const
  ).flatMap(([sign, isSeen]) => (isSeen === true ? [sign] : []));
  return [{ startedMs, endedMs, signs, finding, code: null }];
}

function stretchOfCode(fault: FaultEpisode, { fleetTable }: DerateConfig): Stretch[] {
  if (fault.isPreviouslyActiveOnly) return [];
  const described = describeFault(fault.spn, fault.fmi, fleetTable);
  if (!described.isDerateCode) return [];
  const { startedMs, endedMs } = fault;
  return [{ startedMs, endedMs, signs: [codeSign(described)], finding: null, code: fault }];
}

function codeSign({ fleetFault, known }: FaultDescription): DerateSign {
  if (fleetFault !== null) return 'configured-code';
  return known?.role === 'inducement' ? 'inducement-code' : 'derate-code';
}

function nameOf({ finding, code }: Stretch): string {
  return finding?.id ?? code?.id ?? '';
}

function episodeOf(group: readonly Stretch[], faults: readonly FaultEpisode[], config: DerateConfig): DerateEpisode {
  const first = group[0] as Stretch;
  const found = group.flatMap(({ finding }) => (finding === null ? [] : [finding]));
  const codes = group.flatMap(({ code }) => (code === null ? [] : [code]));
  const machineId = found[0]?.machineId ?? codes[0]?.machineId ?? '';
  const leastTorqueRatio = least(found.map(({ values }) => values.leastTorqueRatio));
  const peakSeverity = most(found.map(({ values }) => values.peakSeverity));
  const isOver = group.every(({ endedMs }) => endedMs !== null);
  return {
    id: `${machineId}~derate-episode~${first.startedMs}`,
    machineId,
    startedMs: first.startedMs,
    endedMs: isOver ? Math.max(...group.map(({ endedMs }) => endedMs as number)) : null,
    level: levelOf(leastTorqueRatio, peakSeverity, codes),
    signs: [...new Set(group.flatMap(({ signs }) => signs))].sort(),
    findingIds: found.map(({ id }) => id),
    codeIds: codes.map(({ id }) => id),
    saidClass: saidClassOf(first.startedMs, faults, config),
    peakSeverity,
    leastTorqueRatio,
    lostPowerKW: leastTorqueRatio === null ? null : rounded((1 - leastTorqueRatio) * config.profile.ratedPowerKW, 1),
    runningH: total(found.map(({ values }) => values.runningS)),
    lostH: total(found.map(({ values }) => values.lostS)),
  };
}

/** At or under this share of the torque a derate is severe. Source: domain notes 7.2, half of the torque, from memory. */
const severeTorqueRatio = 0.6;
/** Severity 5 of SPN 5246 is the last. Source: domain notes on exhaust physics, 7.3. */
const severeSeverity = 5;

function levelOf(
  leastTorqueRatio: number | null,
  peakSeverity: number | null,
  codes: readonly FaultEpisode[],
): DerateLevel {
  const isFinalCode = codes.some(({ spn, fmi }) => spn === 5246 && fmi === 0);
  if (isFinalCode || (peakSeverity ?? 0) >= severeSeverity) return 'severe';
  if (leastTorqueRatio !== null) return leastTorqueRatio <= severeTorqueRatio ? 'severe' : 'low';
  const isInduced = codes.some(({ spn }) => spn === 5246) || (peakSeverity ?? 0) >= 3;
  return isInduced ? 'low' : 'unclear';
}

/** What codes that were active as it began say it is about; the latest to come is nearest to it. */
function saidClassOf(atMs: number, faults: readonly FaultEpisode[], config: DerateConfig): InducementClass | null {
  const joinMs = (config.settings ?? builtInDerateSettings).joinS * 1000;
  let said: InducementClass | null = null;
  let latestMs = Number.NEGATIVE_INFINITY;
  for (const { spn, fmi, startedMs, endedMs, isPreviouslyActiveOnly } of faults) {
    if (isPreviouslyActiveOnly || startedMs > atMs + joinMs || (endedMs ?? atMs) < atMs) continue;
    const { saidClass, isDerateCode, fleetFault } = describeFault(spn, fmi, config.fleetTable);
    const one = isDerateCode ? (fleetFault?.inducementClass ?? saidClass) : saidClass;
    if (one === null || startedMs <= latestMs) continue;
    said = one;
    latestMs = startedMs;
  }
  return said;
}

type Values = readonly (Finding['values'][string] | undefined)[];

function numbers(values: Values): number[] {
  return values.filter((value) => typeof value === 'number');
}

function least(values: Values): number | null {
  const list = numbers(values);
  return list.length === 0 ? null : Math.min(...list);
}

function most(values: Values): number | null {
  const list = numbers(values);
  return list.length === 0 ? null : Math.max(...list);
}

/** Seconds in hours. */
function total(values: Values): number | null {
  const list = numbers(values);
  return list.length === 0 ? null : rounded(list.reduce((sum, value) => sum + value, 0) / 3600, 3);
}
