/** The findings of one machine, page by page, the latest first. */

import { type Signal, signal } from '@preact/signals';
import type { FindingDocument, Problem } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { throttle } from '../api/throttle.js';
import { kindOrder } from '../format/finding-words.js';

const refreshIntervalMs = 5000;
const pageSize = 50;

export interface MachineFindings {
  readonly findings: Signal<readonly FindingDocument[]>;
  readonly nextCursor: Signal<string | null>;
  readonly problem: Signal<Problem | null>;
  /** Loads the newest findings, with or without engine runs. */
  load(withRuns: boolean): Promise<void>;
  more(): Promise<void>;
  /** Takes in a finding that is new or has changed. */
  hear(finding: FindingDocument): void;
  stop(): void;
}

/** An empty list of a machine's findings. */
export function createMachineFindings(machineId: string): MachineFindings {
  const findings = signal<readonly FindingDocument[]>([]);
  const nextCursor = signal<string | null>(null);
  const problem = signal<Problem | null>(null);
  const stopped = new AbortController();
  let withRuns = false;

  const fetchPage = async (cursor: string | null) => {
    const kinds = kindOrder.filter((kind) => kind !== 'engine-run').join(',');
    const query = {
      limit: pageSize,
      ...(withRuns ? {} : { kind: kinds }),
      ...(cursor === null ? {} : { cursor }),
    };
    const answer = await api.getMachineFindings({ path: { machineId }, query, signal: stopped.signal });
    if (answer === null) return;
    problem.value = answer.ok ? null : answer.problem;
    if (!answer.ok) return;
    findings.value = merged(cursor === null ? [] : findings.value, answer.body.items);
    nextCursor.value = answer.body.nextCursor;
  };
  const refresh = throttle(() => fetchPage(null), refreshIntervalMs);
  return {
    findings,
    nextCursor,
    problem,
    load: (runs) => {
      withRuns = runs;
      return fetchPage(null);
    },
    more: () => fetchPage(nextCursor.value),
    hear: (finding) => {
      if (!withRuns && finding.kind === 'engine-run') return;
      findings.value = merged(findings.value, [finding]);
      // A finding can also be withdrawn, which only the list says; a reader deep in older pages keeps them.
      if (findings.value.length <= pageSize) refresh();
    },
    stop: () => {
      stopped.abort();
      refresh.cancel();
    },
  };
}

/** Findings of both lists, each once with its newer version, the latest start first. */
function merged(known: readonly FindingDocument[], fresh: readonly FindingDocument[]): FindingDocument[] {
  const byId = new Map([...known, ...fresh].map((finding) => [finding.id, finding]));
  return [...byId.values()].sort((a, b) => Date.parse(b.startedAt) - Date.parse(a.startedAt));
}
