/** The state of the bench page: what is loaded, where the sliders stand, what the worker answered. */

import { computed, type ReadonlySignal, type Signal, signal } from '@preact/signals';
import { builtInThresholds, type ThresholdSet } from '@warmbrick/analysis';
import type { MachineDetail, Problem } from '@warmbrick/contracts';
import { type ThresholdName, thresholdNotes } from '@warmbrick/tuning';
import { query, setQuery } from '../routing/location.js';
import { fetchColumns } from './fetch-columns.js';
import { createWorkerDesk, type LoadedSpan, type Tried, type WorkerDesk } from './worker-desk.js';

export interface BenchStore {
  readonly problem: Signal<Problem | null>;
  /** Days fetched of how many; null when nothing is being fetched. */
  readonly progress: Signal<{ readonly done: number; readonly days: number } | null>;
  readonly loaded: Signal<LoadedSpan | null>;
  readonly tried: Signal<Tried | null>;
  /** The set that is compared with. */
  readonly before: Signal<ThresholdSet>;
  /** Thresholds that were moved, from the address. */
  readonly moved: ReadonlySignal<Readonly<Partial<Record<ThresholdName, number>>>>;
  /** The set that the sliders make. */
  readonly after: ReadonlySignal<ThresholdSet>;
  load(machine: MachineDetail, fromMs: number, toMs: number): Promise<void>;
  /** Moves a threshold; null puts it back. */
  move(name: ThresholdName, value: number | null): void;
  /** Puts all back. */
  reset(): void;
  ask(): void;
  stop(): void;
}

/** Version of a set that only exists on this page. */
const triedVersion = 'tried-here';
const movedKey = 'set';

/** Makes the store; the worker starts with the first load. */
export function createBenchStore(): BenchStore {
  const problem = signal<Problem | null>(null);
  const progress = signal<BenchStore['progress']['value']>(null);
  const loaded = signal<LoadedSpan | null>(null);
  const tried = signal<Tried | null>(null);
  const before = signal<ThresholdSet>(builtInThresholds);
  const moved = signal(parseMoved(query.value.get(movedKey) ?? ''));
  const after = computed(() => ({ version: triedVersion, values: { ...before.value.values, ...moved.value } }));
  const desk = createWorkerDesk({
    onLoaded: (span) => {
      loaded.value = span;
      ask();
    },
    onTried: (answer) => {
      tried.value = answer;
    },
    onFailed: (detail) => {
      problem.value = failed(detail);
    },
  });
  const fetching = createFetching({ problem, progress, loaded, tried }, desk);
  let writing: ReturnType<typeof setTimeout> | undefined;

  const ask = () => {
    if (loaded.value !== null) desk.ask(before.value, after.value);
  };
  const take = (next: Readonly<Partial<Record<ThresholdName, number>>>) => {
    moved.value = next;
    ask();
    // Browsers refuse an address that changes with every pixel of a slider.
    clearTimeout(writing);
    writing = setTimeout(() => setQuery({ [movedKey]: writeMoved(next) }), addressAfterMs);
  };
  return {
    problem,
    progress,
    loaded,
    tried,
    before,
    moved,
    after,
    load: fetching.load,
    move(name, value) {
      const { [name]: _old, ...others } = moved.value;
      take(value === null ? others : { ...others, [name]: value });
    },
    reset: () => take({}),
    ask,
    stop() {
      fetching.stop();
      clearTimeout(writing);
      desk.stop();
    },
  };
}

/** Brings samples to the desk; a later call calls off the one before. */
function createFetching(
  { problem, progress, loaded, tried }: Pick<BenchStore, 'problem' | 'progress' | 'loaded' | 'tried'>,
  desk: WorkerDesk,
): Pick<BenchStore, 'load' | 'stop'> {
  let fetching = new AbortController();
  return {
    async load({ machineId, profile }, fromMs, toMs) {
      fetching.abort();
      fetching = new AbortController();
      problem.value = null;
      loaded.value = null;
      tried.value = null;
      const onProgress = (done: number, days: number) => {
        progress.value = { done, days };
      };
      const fetched = await fetchColumns(machineId, { fromMs, toMs }, onProgress, fetching.signal);
      if (fetched === null) return;
      progress.value = null;
      if (fetched.ok) desk.load({ machineId, profile, days: fetched.body });
      else problem.value = fetched.problem;
    },
    stop: () => fetching.abort(),
  };
}

/** Rest of the slider after which the address follows. */
const addressAfterMs = 300;

/** Moved thresholds as they stand in the address: "idleLimitS:1800,coldLimitS:2400". What is no threshold is left out. */
function parseMoved(text: string): Partial<Record<ThresholdName, number>> {
  const entries = text.split(',').flatMap((part): [ThresholdName, number][] => {
    const [name, written = ''] = part.split(':');
    const note = thresholdNotes.find((one) => one.name === name);
    const value = Number(written);
    const isGood = note !== undefined && written !== '' && value >= note.min && value <= note.max;
    return isGood ? [[note.name, value]] : [];
  });
  return Object.fromEntries(entries) as Partial<Record<ThresholdName, number>>;
}

function writeMoved(moved: Readonly<Partial<Record<ThresholdName, number>>>): string {
  return Object.entries(moved)
    .map(([name, value]) => `${name}:${value}`)
    .join(',');
}

function failed(detail: string): Problem {
  return { type: 'about:blank', title: 'The trial failed', status: 0, code: 'trial-failed', detail };
}
