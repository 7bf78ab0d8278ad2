/** The state of the bench page: what is loaded, where the sliders stand, what the worker answered. */

import { computed, type ReadonlySignal, type Signal, signal } from '@preact/signals';
import { builtInThresholds, type ThresholdSet } from '@warmbrick/analysis';
import type { ComparisonDocument, MachineDetail, Problem } from '@warmbrick/contracts';
import { type ThresholdName, thresholdNotes } from '@warmbrick/tuning';
import { query, setQuery } from '../routing/location.js';
import type { FromWorker, ToWorker } from './bench-messages.js';
import { fetchColumns } from './fetch-columns.js';

export interface LoadedSpan {
  readonly samples: number;
  readonly fromMs: number;
  readonly toMs: number;
}

export interface Tried {
  readonly document: ComparisonDocument;
  readonly isWhole: boolean;
  readonly elapsedMs: number;
  readonly ran: readonly string[];
}

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
  let worker: Worker | null = null;
  let asked = 0;
  let isAnswering = false;
  let isOvertaken = false;
  let writing: ReturnType<typeof setTimeout> | undefined;
  let fetching = new AbortController();

  const send = (message: ToWorker) => worker?.postMessage(message);
  const ask = () => {
    if (loaded.value === null) return;
    // One question at a time: while a slider moves, what came in between is never computed.
    isOvertaken = isAnswering;
    if (isAnswering) return;
    isAnswering = true;
    asked++;
    send({ type: 'try', number: asked, before: before.value, after: after.value });
  };
  const hear = (message: FromWorker) => {
    if (message.type === 'failed') problem.value = failed(message.message);
    else if (message.type === 'loaded') {
      loaded.value = message;
      ask();
    } else if (message.number === asked) {
      tried.value = message;
      isAnswering = false;
      if (isOvertaken) ask();
    }
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
    async load(machine, fromMs, toMs) {
      fetching.abort();
      fetching = new AbortController();
      worker?.terminate();
      problem.value = null;
      loaded.value = null;
      tried.value = null;
      isAnswering = false;
      const fetched = await fetchColumns(
        machine.machineId,
        { fromMs, toMs },
        (done, days) => {
          progress.value = { done, days };
        },
        fetching.signal,
      );
      progress.value = null;
      if (fetched === null) return;
      if (!fetched.ok) {
        problem.value = fetched.problem;
        return;
      }
      worker = new Worker(new URL('./bench-worker.ts', import.meta.url), { type: 'module' });
      worker.addEventListener('message', (event: MessageEvent<FromWorker>) => hear(event.data));
      worker.addEventListener('error', () => hear({ type: 'failed', message: 'The worker ended.' }));
      const message: ToWorker = {
        type: 'load',
        machineId: machine.machineId,
        profile: machine.profile,
        days: fetched.body,
      };
      worker.postMessage(
        message,
        fetched.body.map(({ buffer }) => buffer),
      );
    },
    move(name, value) {
      const { [name]: _old, ...others } = moved.value;
      take(value === null ? others : { ...others, [name]: value });
    },
    reset: () => take({}),
    ask,
    stop() {
      fetching.abort();
      clearTimeout(writing);
      worker?.terminate();
    },
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
