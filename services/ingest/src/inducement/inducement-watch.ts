/** Looks, now and then, how far the inducement clocks of machines with active faults have run, and commits that as findings. */

import { setTimeout as sleep } from 'node:timers/promises';
import {
  builtInSchedules,
  describeFault,
  type Finding,
  inducementClock,
  inducementFindings,
  schedulesInForce,
} from '@warmbrick/analysis';
import type { MachineChange, Store } from '@warmbrick/store';
import type { IngestLogger } from '../ingest-types.js';
import { readEngineHours } from './read-engine-hours.js';

export interface InducementWatchOptions {
  readonly store: Pick<
    Store,
    | 'machinesWithActiveFaults'
    | 'getMachine'
    | 'listFaultEpisodes'
    | 'machineFaultTexts'
    | 'readSamples'
    | 'listRows'
    | 'listFindings'
    | 'commit'
  >;
  readonly logger: IngestLogger;
  /** The wall clock in UTC epoch ms. */
  readonly now?: () => number;
  /** Between rounds; default a minute. */
  readonly everyMs?: number;
}

export interface InducementWatch {
  /** Resolves when the machine in work is done. */
  stop(): Promise<void>;
}

/** Source: engineering judgement: the shortest steps are minutes of running apart. */
const usualEveryMs = 60_000;
const dayMs = 86_400_000;
/**
 * A machine that was last heard of longer ago tells of the past: its clock is left as it was. Source: as what the alerts call watched.
 */
const watchedWithinMs = dayMs;
/** How far back faults are read that may make one of now a repeat. Source: engineering judgement. */
const repeatReachMs = 60 * dayMs;
const openFindings = 100;

/**
 * Starts the rounds. Any number of processes may do so: the same finding written twice is one finding. A machine or a round that
 * fails is logged, and the next round tries again.
 */
export function startInducementWatch(options: InducementWatchOptions): InducementWatch {
  const { logger, everyMs = usualEveryMs } = options;
  const stopping = new AbortController();
  const { signal } = stopping;
  const run = async () => {
    while (!signal.aborted) {
      await watchOnce(options, signal).catch((error: unknown) =>
        logger.warn({ err: error }, 'inducement clocks could not be looked at'),
      );
      await sleep(everyMs, undefined, { signal }).catch(() => {});
    }
  };
  const running = run();
  return {
    async stop() {
      stopping.abort();
      await running;
    },
  };
}

/** One round over all machines on which a fault is active or a finding of this kind is open. */
async function watchOnce(options: InducementWatchOptions, signal: AbortSignal): Promise<void> {
  const { store, logger } = options;
  for (const machineId of await store.machinesWithActiveFaults()) {
    if (signal.aborted) return;
    try {
      const change = await changeOf(options, machineId);
      if (change !== null) await store.commit([change]);
    } catch (error) {
      logger.warn({ err: error, machineId }, 'the inducement clock of a machine could not be looked at');
    }
  }
}

/** What has changed about the clocks of a machine; null when nothing has. */
async function changeOf(
  { store, now = Date.now }: InducementWatchOptions,
  machineId: string,
): Promise<MachineChange | null> {
  const machine = await store.getMachine(machineId);
  if (machine === null) return null;
  const known = await store.listFindings({ machineId, kinds: ['inducement-step'], limit: openFindings });
  const open = known.items.filter(({ endedMs }) => endedMs === null);
  const nowMs = now();
  const fromMs = Math.min(machine.lastSampleMs - repeatReachMs, ...open.map(({ startedMs }) => startedMs));
  const faults = await store.listFaultEpisodes({ machineId, fromMs, toMs: nowMs + 1 });
  const heardMs = Math.max(machine.lastSampleMs, ...faults.map(({ lastSeenMs }) => lastSeenMs));
  if (nowMs - heardMs > watchedWithinMs) return null;
  const clocks = await clocksOf(store, machine, { faults, atMs: heardMs });
  const chosenId = machine.profile.inducementSchedule ?? null;
  const made = inducementFindings(machineId, clocks, { open, faults, chosenId });
  const before = new Map(open.map((finding) => [finding.id, textOf(finding)]));
  const findings = made.findings.filter((finding) => before.get(finding.id) !== textOf(finding));
  const withdrawnFindingIds = made.withdrawnIds;
  if (findings.length === 0 && withdrawnFindingIds.length === 0) return null;
  return {
    ...{ machineId, findings, withdrawnFindingIds },
    ...{ samples: [], rows: [], keptSnapshots: [] },
    ...{ summary: null, snapshot: null, rewoundToMs: null },
  };
}

type FoundMachine = NonNullable<Awaited<ReturnType<Store['getMachine']>>>;
type Faults = Awaited<ReturnType<Store['listFaultEpisodes']>>;

async function clocksOf(
  store: InducementWatchOptions['store'],
  machine: FoundMachine,
  { faults, atMs }: { readonly faults: Faults; readonly atMs: number },
) {
  const fleetTable = await store.machineFaultTexts(machine.machineId);
  const leading = faults.filter(({ spn, fmi }) => describeFault(spn, fmi, fleetTable).inducementClass !== null);
  if (!leading.some(({ endedMs }) => endedMs === null)) return [];
  const times = leading.flatMap(({ startedMs, endedMs }) => (endedMs === null ? [startedMs] : [startedMs, endedMs]));
  const engineHours = await readEngineHours(store, machine, times);
  const defLevelPct = machine.summary.def?.levelPct ?? null;
  return schedulesInForce(builtInSchedules, atMs).map((schedule) =>
    inducementClock({ schedule, faults: leading, engineHours, atMs, defLevelPct, fleetTable }),
  );
}

function textOf(finding: Finding): string {
  return JSON.stringify(finding);
}
