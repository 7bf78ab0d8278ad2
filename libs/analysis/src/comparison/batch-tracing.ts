/** Tracing a DEF batch: several machines lose NOx conversion after they were filled from the same one. */

import type { Finding } from '../finding.js';

/** From when on a site fills from which batch: what the fuel keeper writes down. */
export interface BatchInUse {
  readonly site: string;
  readonly fromMs: number;
  readonly batch: string;
}

export interface TracedMachine {
  readonly machineId: string;
  readonly filledMs: number;
  /** Start of the loss after the fill; null when there was none. */
  readonly lostMs: number | null;
}

export interface BatchTrace {
  readonly batch: string;
  /** Machines filled from it, each with its first fill. */
  readonly machines: readonly TracedMachine[];
  readonly lostCount: number;
  /** Machines never filled from it, and how many of them lost conversion in the same days. */
  readonly otherCount: number;
  readonly otherLostCount: number;
  /** Chance of as many losses among those filled, if the batch had nothing to do with it. */
  readonly chanceRatio: number;
  readonly isSuspect: boolean;
}

/** Days after a fill in which a loss counts. Source: engineering judgement, a tank lasts days. */
const withinDays = 7;
const dayMs = 86_400_000;
/** Fewest machines that make a batch the suspect, and largest chance. Source: engineering judgement; usual 1 in 20. */
const leastMachines = 2;
const mostChance = 0.05;

/**
 * Traces each batch over the findings of a fleet.
 *
 * A machine counts as filled from the batch that was in use at its site when its level rose (`def-fill`), and as lost when
 * `nox-conversion` or a weak or foreign DEF (`def-quality`) began within seven days after the first fill. A batch is the suspect
 * when two machines lost it at least, half of those filled or more, and Fisher's exact test gives a chance of 5 % at most.
 * Missing: fills of a site or time without a batch are left out, as are machines whose site is not known.
 * Source: Fisher's exact test (1935); the rest engineering judgement. A suspect is to be sampled, not convicted.
 */
export function traceBatches(
  findings: readonly Finding[],
  siteOf: (machineId: string) => string | undefined,
  batches: readonly BatchInUse[],
): BatchTrace[] {
  const machineIds = [...new Set(findings.map((finding) => finding.machineId))].sort();
  const losses = findings.filter(({ kind }) => kind === 'nox-conversion' || kind === 'def-quality');
  const firstFills = firstFillsByBatch(findings, siteOf, batches);
  return [...firstFills.entries()]
    .sort(([a], [b]) => a.localeCompare(b))
    .map(([batch, fills]) => traceOf(batch, fills, { machineIds, losses }));
}

/**
 * One-sided chance of Fisher's exact test: that at least `hits` of `drawn` are among the marked, if nothing links them.
 *
 * Units: counts. Range: 0..1. Source: hypergeometric distribution.
 */
export function fisherChance(counts: { hits: number; drawn: number; marked: number; all: number }): number {
  const { hits, drawn, marked, all } = counts;
  let chance = 0;
  for (let k = hits; k <= Math.min(drawn, marked); k++) {
    if (drawn - k > all - marked) continue;
    chance += Math.exp(logChoose(marked, k) + logChoose(all - marked, drawn - k) - logChoose(all, drawn));
  }
  return Math.min(1, chance);
}

function firstFillsByBatch(
  findings: readonly Finding[],
  siteOf: (machineId: string) => string | undefined,
  batches: readonly BatchInUse[],
): Map<string, Map<string, number>> {
  const fills = new Map<string, Map<string, number>>();
  for (const { kind, machineId, endedMs } of findings) {
    if (kind !== 'def-fill' || endedMs === null) continue;
    const site = siteOf(machineId);
    const inUse = batches
      .filter((use) => use.site === site && use.fromMs <= endedMs)
      .reduce<BatchInUse | null>((last, use) => (last === null || use.fromMs > last.fromMs ? use : last), null);
    if (inUse === null) continue;
    const byMachine = fills.get(inUse.batch) ?? new Map<string, number>();
    byMachine.set(machineId, Math.min(byMachine.get(machineId) ?? endedMs, endedMs));
    fills.set(inUse.batch, byMachine);
  }
  return fills;
}

function traceOf(
  batch: string,
  fills: ReadonlyMap<string, number>,
  fleet: { machineIds: readonly string[]; losses: readonly Finding[] },
): BatchTrace {
  const untilMs = (filledMs: number) => filledMs + withinDays * dayMs;
  const lossAfter = (machineId: string, range: { fromMs: number; toMs: number }) =>
    fleet.losses
      .filter((loss) => loss.machineId === machineId && loss.startedMs >= range.fromMs && loss.startedMs <= range.toMs)
      .reduce<number | null>((first, { startedMs }) => (first === null ? startedMs : Math.min(first, startedMs)), null);
  const machines = [...fills.entries()].map(([machineId, filledMs]) => ({
    machineId,
    filledMs,
    lostMs: lossAfter(machineId, { fromMs: filledMs, toMs: untilMs(filledMs) }),
  }));
  const fromMs = Math.min(...fills.values());
  const toMs = untilMs(Math.max(...fills.values()));
  const others = fleet.machineIds.filter((machineId) => !fills.has(machineId));
  const lostCount = machines.filter(({ lostMs }) => lostMs !== null).length;
  const otherLostCount = others.filter((machineId) => lossAfter(machineId, { fromMs, toMs }) !== null).length;
  const chanceRatio = fisherChance({
    hits: lostCount,
    drawn: machines.length,
    marked: lostCount + otherLostCount,
    all: machines.length + others.length,
  });
  const isSuspect = lostCount >= leastMachines && 2 * lostCount >= machines.length && chanceRatio <= mostChance;
  return { batch, machines, lostCount, otherCount: others.length, otherLostCount, chanceRatio, isSuspect };
}

function logChoose(n: number, k: number): number {
  let sum = 0;
  for (let i = 1; i <= k; i++) sum += Math.log((n - k + i) / i);
  return sum;
}
