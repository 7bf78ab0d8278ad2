/** The samples and findings of the range that the charts show. */

import { type Signal, signal } from '@preact/signals';
import type { FindingDocument, Problem, SampleSeries } from '@warmbrick/contracts';
import { api } from '../api/client.js';
import { rangeToQuery, type TimeRange } from './time-range.js';

/** Buckets asked for: about one for each pixel and a half of a wide chart. */
const buckets = 700;
/** A finding that began this long before the range may still reach into it. */
const reachBackMs = 2 * 86_400_000;

interface RecordScope {
  readonly machineId: string;
  readonly range: TimeRange;
  readonly channels: readonly string[];
}

export interface RecordStore {
  readonly series: Signal<SampleSeries | null>;
  readonly findings: Signal<readonly FindingDocument[]>;
  readonly isLoading: Signal<boolean>;
  readonly problem: Signal<Problem | null>;
  /** Fetches a scope; an earlier fetch still under way is called off. */
  load(scope: RecordScope): Promise<void>;
  stop(): void;
}

/** An empty store; what it holds stays on the page while the next range loads. */
export function createRecordStore(): RecordStore {
  const series = signal<SampleSeries | null>(null);
  const findings = signal<readonly FindingDocument[]>([]);
  const isLoading = signal(false);
  const problem = signal<Problem | null>(null);
  let current = new AbortController();
  return {
    series,
    findings,
    isLoading,
    problem,
    load: async (scope) => {
      current.abort();
      current = new AbortController();
      const { signal: abort } = current;
      isLoading.value = true;
      const [samples, found] = await Promise.all([
        api.getMachineSamples({ ...samplesOf(scope), signal: abort }),
        api.getMachineFindings({ ...findingsOf(scope), signal: abort }),
      ]);
      if (samples === null || found === null || abort.aborted) return;
      isLoading.value = false;
      if (samples.ok) series.value = samples.body;
      if (found.ok) findings.value = found.body.items;
      problem.value = samples.ok ? (found.ok ? null : found.problem) : samples.problem;
    },
    stop: () => current.abort(),
  };
}

function samplesOf({ machineId, range, channels }: RecordScope) {
  return { path: { machineId }, query: { ...rangeToQuery(range), channels: channels.join(','), buckets } };
}

function findingsOf({ machineId, range }: RecordScope) {
  const reached = { fromMs: range.fromMs - reachBackMs, toMs: range.toMs };
  return { path: { machineId }, query: { ...rangeToQuery(reached), limit: 500 } };
}
