/** One machine: what is known of it, what was last heard, its findings; kept up to date by the stream. */

import { type Signal, signal } from '@preact/signals';
import type { FindingDocument, FindingList, MachineDetail, MachineEvent, Problem } from '@warmbrick/contracts';
import { fetchJson } from '../api/fetch-json.js';
import { onFinding, onMachine } from '../api/live-stream.js';
import { throttle } from '../api/throttle.js';
import { kindOrder } from '../format/finding-words.js';

/** The machine's figures are asked for again this often at most, and only when something was heard of it. */
const detailIntervalMs = 30_000;
const findingsIntervalMs = 5000;
const findingsPageSize = 50;

export type Heard = Pick<MachineEvent, 'lastSampleAt' | 'mode'>;

export interface MachineStore {
  readonly detail: Signal<MachineDetail | null>;
  /** The newest sample and mode; runs ahead of `detail`. */
  readonly heard: Signal<Heard | null>;
  readonly findings: Signal<readonly FindingDocument[]>;
  readonly nextCursor: Signal<string | null>;
  readonly problem: Signal<Problem | null>;
  readonly findingsProblem: Signal<Problem | null>;
  loadDetail(): Promise<void>;
  /** Loads the newest findings, with or without engine runs. */
  loadFindings(withRuns: boolean): Promise<void>;
  moreFindings(): Promise<void>;
  stop(): void;
}

/** Makes the store of a machine and listens to the stream until stopped. */
export function createMachineStore(machineId: string): MachineStore {
  const base = `/v1/machines/${encodeURIComponent(machineId)}`;
  const detail = signal<MachineDetail | null>(null);
  const heard = signal<Heard | null>(null);
  const findings = signal<readonly FindingDocument[]>([]);
  const nextCursor = signal<string | null>(null);
  const problem = signal<Problem | null>(null);
  const findingsProblem = signal<Problem | null>(null);
  const stopped = new AbortController();
  let withRuns = false;

  const loadDetail = async () => {
    const answer = await fetchJson<MachineDetail>(base, stopped.signal);
    if (answer === null) return;
    problem.value = answer.ok ? null : answer.problem;
    if (!answer.ok) return;
    detail.value = answer.body;
    hear(answer.body);
  };
  const fetchFindings = async (cursor: string | null) => {
    const query = new URLSearchParams({ limit: String(findingsPageSize) });
    if (!withRuns) query.set('kind', kindOrder.filter((kind) => kind !== 'engine-run').join(','));
    if (cursor !== null) query.set('cursor', cursor);
    const answer = await fetchJson<FindingList>(`${base}/findings?${query}`, stopped.signal);
    if (answer === null) return;
    findingsProblem.value = answer.ok ? null : answer.problem;
    if (!answer.ok) return;
    findings.value = merged(cursor === null ? [] : findings.value, answer.body.items);
    nextCursor.value = answer.body.nextCursor;
  };
  const hear = (event: Heard) => {
    if (heard.value !== null && Date.parse(event.lastSampleAt) < Date.parse(heard.value.lastSampleAt)) return;
    heard.value = { lastSampleAt: event.lastSampleAt, mode: event.mode };
  };

  const refreshDetail = throttle(loadDetail, detailIntervalMs);
  const refreshFindings = throttle(() => fetchFindings(null), findingsIntervalMs);
  const offMachine = onMachine((event) => {
    if (event.machineId !== machineId) return;
    hear(event);
    refreshDetail();
  });
  const offFinding = onFinding((finding) => {
    if (finding.machineId !== machineId) return;
    // A reader deep in older pages keeps them; the new finding is put in place.
    if (findings.value.length > findingsPageSize) findings.value = merged(findings.value, [finding]);
    else refreshFindings();
    refreshDetail();
  });
  return {
    detail,
    heard,
    findings,
    nextCursor,
    problem,
    findingsProblem,
    loadDetail,
    loadFindings: (runs) => {
      withRuns = runs;
      return fetchFindings(null);
    },
    moreFindings: () => fetchFindings(nextCursor.value),
    stop: () => {
      stopped.abort();
      offMachine();
      offFinding();
      refreshDetail.cancel();
      refreshFindings.cancel();
    },
  };
}

/** Findings of both lists, each once with its newer version, the latest start first. */
function merged(known: readonly FindingDocument[], fresh: readonly FindingDocument[]): FindingDocument[] {
  const byId = new Map([...known, ...fresh].map((finding) => [finding.id, finding]));
  return [...byId.values()].sort((a, b) => Date.parse(b.startedAt) - Date.parse(a.startedAt));
}
