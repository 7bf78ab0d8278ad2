/** Tells of machines that other processes write to, so that the page lives where the ingest runs elsewhere. */

import { setTimeout as sleep } from 'node:timers/promises';
import type { EventHub } from '@warmbrick/alerts-api';
import type { Logger } from '@warmbrick/runtime';
import type { MachineChange, Store } from '@warmbrick/store';

export interface WatchMachinesOptions {
  readonly store: Pick<Store, 'machineClocks' | 'getMachine' | 'findingIdsSince' | 'listFindings'>;
  readonly events: Pick<EventHub, 'publishChange' | 'isHeard'>;
  readonly logger: Pick<Logger, 'warn'>;
  /** Between looks, ms. */
  readonly everyMs?: number;
}

/** Source: engineering judgement: a fleet that uploads by the minute is seen within seconds, at little cost to the database. */
const usualEveryMs = 2000;
/** Machines told of in one look; of more, those that changed the longest ago come first. */
const perLook = 300;
/** Newest findings of a machine among which its news are looked for. */
const newestFindings = 50;

export interface MachineWatch {
  stop(): Promise<void>;
}

/** Looks until stopped, and reads something only while somebody listens. */
export function watchMachines(options: WatchMachinesOptions): MachineWatch {
  const { events, logger, everyMs = usualEveryMs } = options;
  const stopping = new AbortController();
  const { signal } = stopping;
  let told = new Map<string, number>();
  const run = async () => {
    while (!signal.aborted) {
      try {
        if (events.isHeard()) told = await tellOfChanges(options, told, signal);
        // Whoever comes to listen reads the lists first.
        else told = new Map();
      } catch (error) {
        logger.warn({ err: error }, 'machines could not be watched; trying again');
      }
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

/** What is told of now, by machine: the time of the last sample that was told of. */
async function tellOfChanges(
  { store, events }: WatchMachinesOptions,
  told: ReadonlyMap<string, number>,
  signal: AbortSignal,
): Promise<Map<string, number>> {
  const clocks = await store.machineClocks();
  // At the first look everything is as the lists say.
  if (told.size === 0) return clocks;
  const next = new Map<string, number>();
  const changed: string[] = [];
  for (const [machineId, lastSampleMs] of clocks) {
    if (told.get(machineId) === lastSampleMs) next.set(machineId, lastSampleMs);
    else changed.push(machineId);
  }
  changed.sort((a, b) => (told.get(a) ?? 0) - (told.get(b) ?? 0));
  for (const [place, machineId] of changed.entries()) {
    const before = told.get(machineId);
    if (place >= perLook || signal.aborted) {
      if (before !== undefined) next.set(machineId, before);
      continue;
    }
    const change = await changeSince(store, machineId, before ?? Number.MAX_SAFE_INTEGER);
    if (change === null) continue;
    events.publishChange(change);
    next.set(machineId, change.summary?.observed.toMs ?? (clocks.get(machineId) as number));
  }
  return next;
}

async function changeSince(
  store: WatchMachinesOptions['store'],
  machineId: string,
  beforeMs: number,
): Promise<MachineChange | null> {
  const machine = await store.getMachine(machineId);
  if (machine === null) return null;
  const news = new Set(await store.findingIdsSince(machineId, beforeMs));
  const newest = news.size === 0 ? [] : (await store.listFindings({ machineId, limit: newestFindings })).items;
  return {
    machineId,
    findings: newest.filter(({ id }) => news.has(id)),
    summary: machine.summary,
    ...{ samples: [], withdrawnFindingIds: [], rows: [], keptSnapshots: [], snapshot: null, rewoundToMs: null },
  };
}
