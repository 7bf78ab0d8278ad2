/** A store in memory for tests of the services; it holds what is committed and nothing else. */

import type { AnalyzerSnapshot, Finding, MachineSummary, ResidencyRow } from '@warmbrick/analysis';
import { OperatingError } from '@warmbrick/runtime';
import {
  blockChannels,
  type ChannelName,
  type Column,
  createColumn,
  defaultProfile,
  type FaultReport,
  type MachineProfile,
  type SampleBlock,
} from '@warmbrick/signals';
import type {
  CommitExtras,
  CursorMove,
  FindingPage,
  MachineChange,
  MachinePage,
  SampleRange,
  Store,
  StoredMachine,
  StoredReject,
} from '@warmbrick/store';
import { createMemoryAccess } from './memory-access.js';

interface Kept {
  profile: MachineProfile;
  state: { readonly summary: MachineSummary; readonly snapshot: AnalyzerSnapshot } | null;
  faults: Map<string, FaultReport>;
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

/** What this store can do. What later tables are for is absent; a test that needs it takes the real store. */
type KeptInMemory =
  | 'putMachine'
  | 'loadProfile'
  | 'findingIdsSince'
  | 'claim'
  | 'commit'
  | 'loadSnapshot'
  | 'loadSnapshotBefore'
  | 'readSamples'
  | 'listMachines'
  | 'getMachine'
  | 'listFindings'
  | 'listRows'
  | 'countFindings'
  | 'listFaults'
  | 'listRejects'
  | 'lastPromotion'
  | 'takeOutbox'
  | 'settleOutbox'
  | 'failOutbox'
  | 'retain'
  | 'compact'
  | 'ping'
  | 'close';
type EarlyStore = Pick<MemoryStore, KeptInMemory | Exclude<keyof MemoryStore, keyof Store>>;

export function createMemoryStore(): MemoryStore {
  const machines = new Map<string, Kept>();
  const cursors = new Map<string, { nextOffset: number; epoch: number }>();
  const rejects = new Map<string, StoredReject>();
  let commits = 0;

  const keep = (machineId: string): Kept => {
    const known = machines.get(machineId) ?? {
      profile: defaultProfile,
      state: null,
      faults: new Map(),
      findings: new Map(),
      rows: new Map(),
      snapshots: new Map(),
      samples: new Map(),
    };
    machines.set(machineId, known);
    return known;
  };
  const stored = (machineId: string, kept: Kept): StoredMachine | null =>
    kept.state === null
      ? null
      : {
          machineId,
          profile: kept.profile,
          thresholdSet: kept.state.snapshot.thresholdSet,
          summary: kept.state.summary,
          lastSampleMs: kept.state.summary.observed.toMs,
        };

  const store: EarlyStore = {
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
    async commit(changes, extras) {
      store.beforeCommit(changes);
      for (const move of cursorsOf(extras)) moveCursor(cursors, move);
      for (const reject of rejectsOf(extras))
        rejects.set(`${reject.source}/${reject.partition}/${reject.offset}`, reject);
      for (const change of changes) applyChange(keep(change.machineId), change);
      commits++;
      store.afterCommit();
    },
    async loadSnapshot(machineId) {
      return structuredClone(machines.get(machineId)?.state?.snapshot ?? null);
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
      const { machineId } = page;
      const kept = machineId === undefined ? [...machines.values()] : [machines.get(machineId)];
      return listFindings(
        page,
        kept.flatMap((it) => [...(it?.findings.values() ?? [])]),
      );
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
    async listFaults(page) {
      const faults = [...(machines.get(page.machineId)?.faults.values() ?? [])]
        .filter(({ timeMs }) => timeMs >= (page.fromMs ?? -Infinity) && timeMs < (page.toMs ?? Infinity))
        .sort((a, b) => (page.first === 'oldest' ? a.timeMs - b.timeMs : b.timeMs - a.timeMs));
      return pageOf(faults, page.limit, page.cursor);
    },
    lastPromotion: async () => 0,
    async listRejects(page) {
      const wanted = [...rejects.values()].filter(({ source }) => page.source === undefined || source === page.source);
      return pageOf(wanted, page.limit, page.cursor);
    },
    // Opened without an outbox, and with nothing to retire or to put together.
    takeOutbox: async () => [],
    settleOutbox: async () => {},
    failOutbox: async () => {},
    retain: async () => ({
      sampleMonths: 0,
      chunks: 0,
      rows: 0,
      snapshots: 0,
      faults: 0,
      sentOutbox: 0,
      unsentOutbox: 0,
      rejects: 0,
      alerts: 0,
    }),
    compact: async () => 0,
    async ping() {
      if (store.isDown) throw down();
    },
    async close() {},
  };
  // Its machines all belong to one fleet, so everybody who sees any sees all.
  return Object.assign(store, createMemoryAccess(), { forFleets: () => store }) as unknown as MemoryStore;
}

function down(): OperatingError {
  return new OperatingError('connection refused at 10.1.2.3:5432', { code: 'store-unavailable', isRetriable: true });
}

function cursorsOf(extras: CommitExtras | CursorMove | null | undefined): readonly CursorMove[] {
  if (extras === null || extras === undefined) return [];
  return 'epoch' in extras ? [extras] : (extras.cursors ?? []);
}

function rejectsOf(extras: CommitExtras | CursorMove | null | undefined): StoredReject[] {
  if (extras === null || extras === undefined || 'epoch' in extras) return [];
  return (extras.rejects ?? []).map((reject) => ({
    ...reject,
    payloadBytes: reject.payload.length,
    isTruncated: false,
  }));
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
  for (const report of change.faults ?? []) {
    kept.faults.set(`${report.timeMs} ${report.sourceAddress} ${report.kind}`, report);
  }
  const { summary, snapshot } = change;
  if (summary !== null && snapshot !== null) kept.state = { summary, snapshot: structuredClone(snapshot) };
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
