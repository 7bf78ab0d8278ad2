/** A store in memory for tests of the services; it holds what is committed and nothing else. */

import type { AnalyzerSnapshot, Finding, ResidencyRow } from '@warmbrick/analysis';
import { OperatingError } from '@warmbrick/runtime';
import {
  blockChannels,
  type ChannelName,
  type Column,
  createColumn,
  defaultProfile,
  type MachineProfile,
  type SampleBlock,
} from '@warmbrick/signals';
import type {
  CursorMove,
  FindingPage,
  MachineChange,
  MachinePage,
  SampleRange,
  Store,
  StoredMachine,
} from '@warmbrick/store';

interface Kept {
  profile: MachineProfile;
  change: MachineChange | null;
  findings: Map<string, Finding>;
  rows: Map<number, ResidencyRow>;
  snapshots: Map<number, AnalyzerSnapshot>;
  samples: Map<number, Map<ChannelName, number>>;
}

export interface MemoryStore extends Store {
  /** Called before each commit; throw to make it fail. */
  beforeCommit: (changes: readonly MachineChange[]) => void;
  /** Called after each commit took effect; throw to lose the answer. */
  afterCommit: () => void;
  isDown: boolean;
  readonly commits: number;
}

export function createMemoryStore(): MemoryStore {
  const machines = new Map<string, Kept>();
  const cursors = new Map<string, { nextOffset: number; epoch: number }>();
  let commits = 0;

  const keep = (machineId: string): Kept => {
    const known = machines.get(machineId) ?? {
      profile: defaultProfile,
      change: null,
      findings: new Map(),
      rows: new Map(),
      snapshots: new Map(),
      samples: new Map(),
    };
    machines.set(machineId, known);
    return known;
  };
  const stored = (machineId: string, kept: Kept): StoredMachine | null =>
    kept.change === null
      ? null
      : {
          machineId,
          profile: kept.profile,
          thresholdSet: kept.change.snapshot.thresholdSet,
          summary: kept.change.summary,
          lastSampleMs: kept.change.summary.observed.toMs,
        };

  const store: MemoryStore = {
    beforeCommit: () => {},
    afterCommit: () => {},
    isDown: false,
    get commits() {
      return commits;
    },
    async putMachine(machineId, profile) {
      keep(machineId).profile = profile;
    },
    async loadProfile(machineId) {
      return machines.get(machineId)?.profile ?? null;
    },
    async findingIdsSince(machineId, atMs) {
      const findings = [...(machines.get(machineId)?.findings.values() ?? [])];
      return findings.filter(({ emittedMs }) => emittedMs > atMs).map(({ id }) => id);
    },
    async claim(source, partition) {
      const key = `${source}/${partition}`;
      const claimed = cursors.get(key) ?? { nextOffset: 0, epoch: 0 };
      claimed.epoch++;
      cursors.set(key, claimed);
      return { ...claimed };
    },
    async commit(changes, cursor) {
      store.beforeCommit(changes);
      if (cursor !== null) moveCursor(cursors, cursor);
      for (const change of changes) applyChange(keep(change.machineId), change);
      commits++;
      store.afterCommit();
    },
    async loadSnapshot(machineId) {
      return structuredClone(machines.get(machineId)?.change?.snapshot ?? null);
    },
    async loadSnapshotBefore(machineId, atMs) {
      const snapshots = [...(machines.get(machineId)?.snapshots ?? [])].filter(([keptMs]) => keptMs <= atMs);
      const latest = snapshots.sort((a, b) => b[0] - a[0])[0];
      return latest === undefined ? null : { atMs: latest[0], snapshot: structuredClone(latest[1]) };
    },
    async readSamples(range) {
      const samples = machines.get(range.machineId)?.samples;
      return samples === undefined ? [] : toBlocks(range, samples);
    },
    async listMachines(page) {
      return listMachines(
        page,
        [...machines].flatMap(([id, kept]) => stored(id, kept) ?? []),
      );
    },
    async getMachine(machineId) {
      if (store.isDown) throw down();
      const kept = machines.get(machineId);
      return kept === undefined ? null : stored(machineId, kept);
    },
    async listFindings(page) {
      return listFindings(page, [...(machines.get(page.machineId)?.findings.values() ?? [])]);
    },
    async listRows(machineIds, fromMs, toMs) {
      return new Map(
        machineIds.map((id) => [
          id,
          [...(machines.get(id)?.rows.values() ?? [])]
            .filter((row) => row.startedMs >= fromMs && row.startedMs < toMs)
            .sort((a, b) => a.startedMs - b.startedMs),
        ]),
      );
    },
    async countFindings(ranges) {
      const counts = new Map<string, Record<string, number>>();
      for (const { machineId, fromMs, toMs } of ranges) {
        const byKind: Record<string, number> = {};
        for (const { kind, startedMs } of machines.get(machineId)?.findings.values() ?? []) {
          if (startedMs >= fromMs && startedMs < toMs) byKind[kind] = (byKind[kind] ?? 0) + 1;
        }
        counts.set(machineId, byKind);
      }
      return counts;
    },
    async ping() {
      if (store.isDown) throw down();
    },
    async close() {},
  };
  return store;
}

function down(): OperatingError {
  return new OperatingError('connection refused at 10.1.2.3:5432', { code: 'store-unavailable', isRetriable: true });
}

function moveCursor(cursors: Map<string, { nextOffset: number; epoch: number }>, move: CursorMove): void {
  const held = cursors.get(`${move.source}/${move.partition}`);
  if (held === undefined || held.epoch !== move.epoch) {
    throw new OperatingError('another writer owns this partition', { code: 'fenced' });
  }
  held.nextOffset = move.nextOffset;
}

function applyChange(kept: Kept, change: MachineChange): void {
  const { rewoundToMs } = change;
  if (rewoundToMs !== null) {
    for (const atMs of kept.snapshots.keys()) if (atMs > rewoundToMs) kept.snapshots.delete(atMs);
    for (const startMs of kept.rows.keys()) if (startMs > rewoundToMs) kept.rows.delete(startMs);
  }
  for (const id of change.withdrawnFindingIds) kept.findings.delete(id);
  for (const finding of change.findings) kept.findings.set(finding.id, finding);
  for (const row of change.rows) kept.rows.set(row.startedMs, row);
  for (const { atMs, snapshot } of change.keptSnapshots) kept.snapshots.set(atMs, structuredClone(snapshot));
  for (const block of change.samples) archive(kept.samples, block);
  kept.change = { ...change, snapshot: structuredClone(change.snapshot), samples: [] };
}

function archive(samples: Map<number, Map<ChannelName, number>>, block: SampleBlock): void {
  for (let i = 0; i < block.timeMs.length; i++) {
    const atMs = block.timeMs[i] as number;
    const values = samples.get(atMs) ?? new Map<ChannelName, number>();
    samples.set(atMs, values);
    for (const name of blockChannels(block)) {
      const value = (block.channels[name] as Column)[i] as number;
      const before = values.get(name) ?? Number.NaN;
      values.set(name, Number.isNaN(before) ? value : Number.isNaN(value) ? before : Math.max(before, value));
    }
  }
}

function toBlocks(range: SampleRange, samples: Map<number, Map<ChannelName, number>>): SampleBlock[] {
  const times = [...samples.keys()].filter((at) => at >= range.fromMs && at < range.toMs).sort((a, b) => a - b);
  if (times.length === 0) return [];
  const names = new Set(times.flatMap((at) => [...(samples.get(at)?.keys() ?? [])]));
  const columns: Partial<Record<ChannelName, Column>> = {};
  for (const name of names) {
    if (range.channels !== undefined && !range.channels.includes(name)) continue;
    const column = createColumn(name, times.length);
    times.forEach((at, i) => {
      column[i] = samples.get(at)?.get(name) ?? Number.NaN;
    });
    columns[name] = column;
  }
  return [{ machineId: range.machineId, timeMs: Float64Array.from(times), channels: columns }];
}

/** The cursor of this store is the index of the next item. */
function pageOf<T>(items: readonly T[], limit: number, cursor: string | undefined) {
  if (cursor !== undefined && !/^\d+$/.test(cursor)) throw new OperatingError('not a cursor', { code: 'bad-cursor' });
  const from = cursor === undefined ? 0 : Number(cursor);
  const end = from + limit;
  return { items: items.slice(from, end), nextCursor: end < items.length ? String(end) : null };
}

function listMachines(page: MachinePage, all: StoredMachine[]) {
  const risk = (machine: StoredMachine) => machine.summary.score?.value ?? -1;
  const byId = (a: StoredMachine, b: StoredMachine) => (a.machineId < b.machineId ? -1 : 1);
  const sorted = all
    .filter((machine) => page.site === undefined || machine.profile.site === page.site)
    .sort((a, b) => (page.sort === 'name' ? 0 : risk(b) - risk(a)) || byId(a, b));
  return pageOf(sorted, page.limit, page.cursor);
}

function listFindings(page: FindingPage, all: Finding[]) {
  const sorted = all
    .filter(({ startedMs }) => startedMs >= (page.fromMs ?? -Infinity) && startedMs < (page.toMs ?? Infinity))
    .filter(({ kind }) => page.kinds === undefined || page.kinds.includes(kind))
    .sort((a, b) => b.startedMs - a.startedMs);
  return pageOf(sorted, page.limit, page.cursor);
}
