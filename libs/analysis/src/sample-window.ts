/** The last sample of the block before, and this block, as one set of columns with working space for the observer. */

import { type ChannelName, type Column, exhaustSourceOrder, type SampleBlock } from '@warmbrick/signals';
import { type FurtherChannel, type FurtherColumns, furtherChannels } from './further-channels.js';
import type { ObservedBlock } from './observed-block.js';

/** The columns that the analysis reads of a sample, as JSON. Missing: null. */
export interface LastSample {
  readonly timeMs: number;
  readonly values: readonly (number | null)[];
  /** Values of the further channels that have one. */
  readonly further: Readonly<Partial<Record<FurtherChannel, number>>>;
}

export interface SampleWindow {
  /** Samples in the window, and stretches between them. */
  readonly length: number;
  readonly count: number;
  readonly timeMs: Float64Array;
  readonly rpm: Float32Array;
  readonly load: Float32Array;
  readonly exhaustTempC: Float32Array;
  readonly turbineTempC: Float32Array;
  readonly coolant: Float32Array;
  readonly hours: Float64Array;
  readonly heldMs: Float64Array;
  readonly restMs: Float64Array;
  readonly mode: Uint8Array;
  readonly restMode: Uint8Array;
  readonly spanStart: Int32Array;
  readonly observed: Omit<ObservedBlock, 'starts' | 'stops' | 'gaps' | 'spanCount'>;
  /** Whether there may be a turbine outlet temperature at all, and engine hours. */
  readonly hasTurbine: boolean;
  readonly hasHours: boolean;
  /** The last sample of the window, for the next one. */
  last(): LastSample | null;
}

const narrowColumns = [
  'engineSpeedRpm',
  'engineLoadPct',
  'turbineOutTempC',
  'coolantTempC',
  'ambientTempC',
  'fuelRateLPerH',
] as const satisfies readonly ChannelName[];

/** Places in the values of the last sample; those of the narrow columns come first. */
const turbineAt = narrowColumns.indexOf('turbineOutTempC');
const hoursAt = narrowColumns.length;
const exhaustAt = hoursAt + 1;

/** Channels that the analysis reads: a reader may leave out all others. */
export const analysedChannels: readonly ChannelName[] = [
  ...new Set<ChannelName>([...narrowColumns, ...exhaustSourceOrder, 'engineHours', ...furtherChannels]),
];

interface Scratch {
  capacity: number;
  timeMs: Float64Array;
  narrow: Float32Array[];
  exhaustTempC: Float32Array;
  exhaustSource: Uint8Array;
  hours: Float64Array;
  heldMs: Float64Array;
  restMs: Float64Array;
  mode: Uint8Array;
  restMode: Uint8Array;
  spanStart: Int32Array;
  /** Made when a channel first comes. */
  further: Partial<Record<FurtherChannel, Float32Array>>;
}

/** Shared by all analyzers of the thread: a window is used up before the next one is made. */
let scratch = createScratch(1024);

/** Builds the window. Its arrays are only good until the next call. */
export function createSampleWindow(last: LastSample | null, block: SampleBlock): SampleWindow {
  const before = last === null ? 0 : 1;
  const length = block.timeMs.length + before;
  if (length > scratch.capacity) scratch = createScratch(2 ** Math.ceil(Math.log2(length)));
  fillTime(last, block, before);
  narrowColumns.forEach((name, k) => {
    fillColumn(scratch.narrow[k] as Float32Array, block.channels[name], { before, length, carried: last?.values[k] });
  });
  fillColumn(scratch.hours, block.channels.engineHours, { before, length, carried: last?.values[hoursAt] });
  fillExhaust(last, block, { before, length });
  const further = fillFurther(last, block, { before, length });
  return viewOf(length, further, {
    hasTurbine: block.channels.turbineOutTempC !== undefined || isCarried(last, turbineAt),
    hasHours: block.channels.engineHours !== undefined || isCarried(last, hoursAt),
  });
}

function isCarried(last: LastSample | null, at: number): boolean {
  return last !== null && last.values[at] !== null;
}

/** Columns of the further channels that the window has any of. */
function fillFurther(last: LastSample | null, block: SampleBlock, extent: Extent): FurtherColumns {
  const columns: Partial<Record<FurtherChannel, Float32Array>> = {};
  for (const name of furtherChannels) {
    const source = block.channels[name];
    const carried = last?.further[name];
    if (source === undefined && carried === undefined) continue;
    const column = scratch.further[name] ?? new Float32Array(scratch.capacity);
    scratch.further[name] = column;
    fillColumn(column, source, { ...extent, carried });
    columns[name] = column.subarray(0, extent.length);
  }
  return columns;
}

function viewOf(
  length: number,
  further: FurtherColumns,
  sent: Pick<SampleWindow, 'hasTurbine' | 'hasHours'>,
): SampleWindow {
  const count = Math.max(0, length - 1);
  const observed = observedView({ length, count, further });
  return {
    length,
    count,
    timeMs: observed.timeMs,
    rpm: observed.engineSpeedRpm,
    load: observed.engineLoadPct,
    exhaustTempC: observed.exhaustTempC,
    turbineTempC: (scratch.narrow[turbineAt] as Float32Array).subarray(0, length),
    coolant: observed.coolantTempC,
    hours: scratch.hours.subarray(0, length),
    heldMs: observed.heldMs,
    restMs: observed.restMs,
    mode: observed.mode,
    restMode: observed.restMode,
    spanStart: observed.spanStart,
    ...sent,
    observed,
    last: () => (length === 0 ? null : lastSample(length - 1, further)),
  };
}

function observedView(of: { length: number; count: number; further: FurtherColumns }): SampleWindow['observed'] {
  const { length, count, further } = of;
  const narrow = (name: (typeof narrowColumns)[number]) =>
    (scratch.narrow[narrowColumns.indexOf(name)] as Float32Array).subarray(0, length);
  return {
    count,
    timeMs: scratch.timeMs.subarray(0, length),
    heldMs: scratch.heldMs.subarray(0, count),
    restMs: scratch.restMs.subarray(0, count),
    mode: scratch.mode.subarray(0, length),
    restMode: scratch.restMode.subarray(0, count),
    spanStart: scratch.spanStart,
    exhaustTempC: scratch.exhaustTempC.subarray(0, length),
    exhaustSource: scratch.exhaustSource.subarray(0, length),
    engineSpeedRpm: narrow('engineSpeedRpm'),
    engineLoadPct: narrow('engineLoadPct'),
    coolantTempC: narrow('coolantTempC'),
    ambientTempC: narrow('ambientTempC'),
    fuelRateLPerH: narrow('fuelRateLPerH'),
    further,
  };
}

function lastSample(i: number, columns: FurtherColumns): LastSample {
  const values = [...scratch.narrow.map((column) => column[i] as number), scratch.hours[i] as number];
  values.push(scratch.exhaustTempC[i] as number, scratch.exhaustSource[i] as number);
  const further: Partial<Record<FurtherChannel, number>> = {};
  for (const name of furtherChannels) {
    const value = columns[name]?.[i] ?? Number.NaN;
    if (!Number.isNaN(value)) further[name] = value;
  }
  return { timeMs: scratch.timeMs[i] as number, values: values.map((v) => (Number.isNaN(v) ? null : v)), further };
}

function fillTime(last: LastSample | null, block: SampleBlock, before: number): void {
  if (last !== null) scratch.timeMs[0] = last.timeMs;
  scratch.timeMs.set(block.timeMs, before);
}

interface Extent {
  readonly before: number;
  readonly length: number;
  readonly carried?: number | null | undefined;
}

function fillColumn(target: Column, source: Column | undefined, extent: Extent): void {
  if (extent.before === 1) target[0] = extent.carried ?? Number.NaN;
  if (source === undefined) target.fill(Number.NaN, extent.before, extent.length);
  else target.set(source, extent.before);
}

/** Each sample takes the best exhaust temperature that it has. */
function fillExhaust(last: LastSample | null, block: SampleBlock, extent: Extent): void {
  const { exhaustTempC, exhaustSource } = scratch;
  const { before } = extent;
  const first = exhaustSourceOrder.findIndex((name) => block.channels[name] !== undefined);
  const best = first < 0 ? undefined : block.channels[exhaustSourceOrder[first] as ChannelName];
  fillColumn(exhaustTempC, best, { ...extent, carried: last?.values[exhaustAt] });
  exhaustSource.fill(Math.max(0, first), before, extent.length);
  if (before === 1) exhaustSource[0] = last?.values[exhaustAt + 1] ?? 0;
  if (best === undefined || !hasHoles(best)) return;
  for (let source = first + 1; source < exhaustSourceOrder.length; source++) {
    const column = block.channels[exhaustSourceOrder[source] as ChannelName];
    if (column !== undefined) fillHoles(column, source, before);
  }
  for (let i = before; i < extent.length; i++) {
    if (exhaustTempC[i] !== exhaustTempC[i]) exhaustSource[i] = 0;
  }
}

function hasHoles(column: Column): boolean {
  for (let i = 0; i < column.length; i++) if (column[i] !== column[i]) return true;
  return false;
}

function fillHoles(column: Column, source: number, before: number): void {
  const { exhaustTempC, exhaustSource } = scratch;
  for (let i = 0; i < column.length; i++) {
    const at = i + before;
    const have = exhaustTempC[at] as number;
    const value = column[i] as number;
    if (have !== have && value === value) {
      exhaustTempC[at] = value;
      exhaustSource[at] = source;
    }
  }
}

function createScratch(capacity: number): Scratch {
  return {
    capacity,
    timeMs: new Float64Array(capacity),
    narrow: narrowColumns.map(() => new Float32Array(capacity)),
    exhaustTempC: new Float32Array(capacity),
    exhaustSource: new Uint8Array(capacity),
    hours: new Float64Array(capacity),
    heldMs: new Float64Array(capacity),
    restMs: new Float64Array(capacity),
    mode: new Uint8Array(capacity),
    restMode: new Uint8Array(capacity),
    spanStart: new Int32Array(capacity + 1),
    further: {},
  };
}
