/** Looks, now and then, which machines are overdue for service, and commits that as findings. */

import { setTimeout as sleep } from 'node:timers/promises';
import { type Finding, serviceDue, serviceFindings } from '@warmbrick/analysis';
import { type MachineChange, readHourUse, type Store } from '@warmbrick/store';
import type { IngestLogger } from '../ingest-types.js';

export interface ServiceWatchOptions {
  readonly store: Pick<
    Store,
    'servicedMachines' | 'getMachine' | 'listServiceRecords' | 'readSamples' | 'listRows' | 'listFindings' | 'commit'
  >;
  readonly logger: IngestLogger;
  /** The wall clock in UTC epoch ms. */
  readonly now?: () => number;
  /** Between rounds; default a quarter of an hour. */
  readonly everyMs?: number;
}

export interface ServiceWatch {
  /** Resolves when the machine in work is done. */
  stop(): Promise<void>;
}

/** Source: engineering judgement; nothing falls due by the minute. */
const usualEveryMs = 15 * 60_000;
const openFindings = 500;

/**
 * Starts the rounds. Any number of processes may do so: the same finding written twice is one finding. A round that fails is
 * logged, and the next one tries again.
 */
export function startServiceWatch(options: ServiceWatchOptions): ServiceWatch {
  const { logger, everyMs = usualEveryMs } = options;
  const stopping = new AbortController();
  const { signal } = stopping;
  const run = async () => {
    while (!signal.aborted) {
      await watchOnce(options, signal).catch((error: unknown) =>
        logger.warn({ err: error }, 'service could not be looked at'),
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

/** One round over all machines that have a record. */
async function watchOnce(options: ServiceWatchOptions, signal: AbortSignal): Promise<void> {
  const { store } = options;
  for (const machineId of await store.servicedMachines()) {
    if (signal.aborted) return;
    const findings = await changedFindings(options, machineId);
    if (findings.length > 0) await store.commit([changeOf(machineId, findings)]);
  }
}

async function changedFindings({ store, now = Date.now }: ServiceWatchOptions, machineId: string): Promise<Finding[]> {
  const machine = await store.getMachine(machineId);
  if (machine === null) return [];
  const records = await store.listServiceRecords(machineId);
  const use = await readHourUse(store, machine, Math.min(Infinity, ...records.map(({ atMs }) => atMs)));
  const nowMs = now();
  const dues = serviceDue({ intervals: machine.profile.serviceIntervals, records, use, nowMs });
  const known = await store.listFindings({ machineId, kinds: ['service-overdue'], limit: openFindings });
  const open = known.items.filter(({ endedMs }) => endedMs === null);
  const made = serviceFindings(machineId, dues, { open, nowMs });
  const before = new Map(open.map((finding) => [finding.id, JSON.stringify(finding)]));
  return made.filter((finding) => before.get(finding.id) !== JSON.stringify(finding));
}

function changeOf(machineId: string, findings: readonly Finding[]): MachineChange {
  return {
    machineId,
    findings,
    ...{ samples: [], withdrawnFindingIds: [], rows: [], keptSnapshots: [] },
    ...{ summary: null, snapshot: null, rewoundToMs: null },
  };
}
