/** Exhaust temperatures that are not to be trusted: stuck, cold on a running engine, or against their neighbour. */

import type { DetectorConfig, DetectorEvent } from './detector.js';
import { rounded } from './figures.js';
import type { FurtherChannel } from './further-channels.js';
import { firstAtOrAfter, markAfterMs, minuteMs } from './minute-marks.js';
import { firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';
import {
  channelEvent,
  coldWhy,
  type Pair,
  pairEvent,
  pairs,
  type SensorSuspectState,
  stuckWhy,
  type Work,
  watchedTemperatures,
} from './sensor-suspect-state.js';
import { noChanges, repeatOpenSensor, type Suspicion } from './suspicion.js';

const turbinePair = 1;

/** Share of a minute in the smoothed load: five minutes, as long as bricks take to answer. Source: engineering judgement. */
const loadSmoothing = 0.2;
/**
 * After a value has changed, so long pass before the load counts that it does not follow, ms: the smoothed load still comes from
 * before, and a temperature that has just settled owes it nothing. Source: three times the smoothing.
 */
const settleMs = 900_000;
/** Minutes of running after which no exhaust is cold any more, and minutes of being so. Source: domain notes 5.2, judgement. */
const warmMinutes = 20;
const coldMinutesWanted = 10;
/** A silence that begins everything anew, ms. Source: engineering judgement. */
const breakMs = 600_000;
/** Fuel burnt in the oxidation catalyst may heat the SCR inlet above the turbine from here on, degC. Source: judgement. */
const burningC = 450;

const zeros = (count: number): number[] => Array.from({ length: count }, () => 0);
const count = watchedTemperatures.length;

/**
 * Watches exhaust temperatures once a minute while the engine runs.
 *
 * Stuck: exactly the same for `sensorStuckS` while the load, smoothed over five minutes, moved by `sensorLoadRangePct`, the first
 * quarter of an hour aside; a temperature that steps with the load and then stands is not stuck. Cold: under `sensorColdC` for ten minutes under load, twenty
 * after the start. Swapped or drifting: the SCR inlet `sensorSwapK` colder than its outlet, or the turbine outlet colder than
 * the SCR inlet while the load does not fall and nothing regenerates, for `sensorSwapS` of steady work.
 * Missing: a channel that is not sent is not watched; without a load only cold and swapped can be told.
 * The start of a finding is later by a millisecond for each place in the list, so that two of one minute stay two.
 * Source: engineering judgement; idle exhaust is 110-150 C (domain notes 5.2).
 */
export const sensorSuspectDetector = repeatOpenSensor<SensorSuspectState>({
  name: 'sensor-suspect',
  initial: () => ({
    markMs: 0,
    lastMs: 0,
    runMinutes: 0,
    loadPct: -1,
    valueC: zeros(count),
    sinceMs: zeros(count),
    lowPct: zeros(count),
    highPct: zeros(count),
    coldMinutes: zeros(count),
    openMs: zeros(count),
    openWhy: zeros(count),
    pairMinutes: zeros(pairs.length),
    pairFromMs: zeros(pairs.length),
    pairOpenMs: zeros(pairs.length),
    pairOffK: zeros(pairs.length),
  }),
  step: (config, state, block) => {
    const first = firstAtOrAfter(block.timeMs, { from: 0, to: block.count }, state.markMs);
    if (first >= block.count) return { state, events: [], changes: noChanges };
    const work = opened(config, state);
    const columns = watchedTemperatures.map((name, k) => (k === 0 ? undefined : block.further[name as FurtherChannel]));
    for (let i = first; i < block.count; ) {
      read(work, { block, columns }, i);
      work.markMs = markAfterMs(block.timeMs[i] as number);
      i = firstAtOrAfter(block.timeMs, { from: i, to: block.count }, work.markMs);
    }
    const { events, changes, config: _config, ...rest } = work;
    return { state: rest, events, changes };
  },
  open: (config, state) => {
    const events: DetectorEvent[] = [];
    for (let k = 0; k < count; k++)
      if (state.openWhy[k] !== 0) events.push(channelEvent(config, state, { k, endedMs: null }));
    for (let p = 0; p < pairs.length; p++) {
      if (state.pairOpenMs[p] !== 0) events.push(pairEvent(config, state, { p, endedMs: null }));
    }
    return events;
  },
  suspicions: (state) => [
    ...watchedTemperatures.flatMap((_, k) => (state.openWhy[k] === 0 ? [] : [channelSuspicion(k)])),
    ...pairs.flatMap((_, p) => (state.pairOpenMs[p] === 0 ? [] : [pairSuspicion(p)])),
  ],
});

function channelSuspicion(k: number): Suspicion {
  return { reason: `channel ${k}`, channel: watchedTemperatures[k] as string };
}

function pairSuspicion(p: number): Suspicion {
  return { reason: `pair ${p}`, channel: watchedTemperatures[(pairs[p] as Pair).hotter] as string };
}

/** Written out, because this runs for every block of every machine. */
function opened(config: DetectorConfig, state: SensorSuspectState): Work {
  return {
    markMs: state.markMs,
    lastMs: state.lastMs,
    runMinutes: state.runMinutes,
    loadPct: state.loadPct,
    valueC: [...state.valueC],
    sinceMs: [...state.sinceMs],
    lowPct: [...state.lowPct],
    highPct: [...state.highPct],
    coldMinutes: [...state.coldMinutes],
    openMs: [...state.openMs],
    openWhy: [...state.openWhy],
    pairMinutes: [...state.pairMinutes],
    pairFromMs: [...state.pairFromMs],
    pairOpenMs: [...state.pairOpenMs],
    pairOffK: [...state.pairOffK],
    events: [],
    changes: [],
    config,
  };
}

/** A block with the columns of `watchedTemperatures`, looked up once. */
interface Seen {
  readonly block: ObservedBlock;
  readonly columns: readonly (Float32Array | undefined)[];
}

/** Everything at the first sample of a minute. */
function read(work: Work, seen: Seen, i: number): void {
  const { block } = seen;
  const atMs = block.timeMs[i] as number;
  const code = block.mode[i] as number;
  if (code === modeCode.unobserved) return;
  if (code < firstRunningMode || atMs - work.lastMs > breakMs) beginAnew(work);
  if (code < firstRunningMode) return;
  work.lastMs = atMs;
  work.runMinutes++;
  const load = block.engineLoadPct[i] as number;
  if (load === load) {
    work.loadPct =
      work.loadPct < 0 ? load : Math.round((work.loadPct + (load - work.loadPct) * loadSmoothing) * 100) / 100;
  }
  for (let k = 0; k < count; k++) {
    const tempC = temperatureAt(seen, k, i);
    if (tempC === tempC) watch(work, k, { atMs, tempC });
  }
  const isRegenerating = block.further.activeRegenState?.[i] === 1;
  const isSteady = code === modeCode.working && !(load < work.loadPct - 5);
  for (let p = 0; p < pairs.length; p++) {
    const pair = pairs[p] as Pair;
    const hotC = temperatureAt(seen, pair.hotter, i);
    const coldC = temperatureAt(seen, pair.colder, i);
    const isBurning = p === turbinePair && (isRegenerating || coldC >= burningC);
    const offK = isSteady && !isBurning ? coldC - hotC : 0;
    if (offK === offK) watchPair(work, p, { atMs, offK });
  }
}

function temperatureAt({ block, columns }: Seen, k: number, i: number): number {
  if (k === 0) return block.exhaustSource[i] === 0 ? (block.exhaustTempC[i] as number) : Number.NaN;
  const column = columns[k];
  return column === undefined ? Number.NaN : (column[i] as number);
}

/** After a stop or a long silence nothing is known of how long a value has stood. Findings go on. */
function beginAnew(work: Work): void {
  work.runMinutes = 0;
  work.loadPct = -1;
  for (let k = 0; k < count; k++) {
    work.sinceMs[k] = 0;
    work.coldMinutes[k] = 0;
  }
  for (let p = 0; p < pairs.length; p++) if (work.pairOpenMs[p] === 0) work.pairMinutes[p] = 0;
}

function watch(work: Work, k: number, at: { atMs: number; tempC: number }): void {
  const { atMs, tempC } = at;
  const { sensorStuckS, sensorLoadRangePct, sensorColdC } = work.config.thresholds;
  const isSame = tempC === work.valueC[k];
  if (!isSame || work.sinceMs[k] === 0) {
    if (!isSame && work.openWhy[k] === stuckWhy) close(work, k, atMs);
    work.valueC[k] = tempC;
    work.sinceMs[k] = atMs;
    work.lowPct[k] = 250;
    work.highPct[k] = 0;
  }
  if (work.loadPct >= 0 && atMs - (work.sinceMs[k] as number) >= settleMs) {
    if (work.loadPct < (work.lowPct[k] as number)) work.lowPct[k] = work.loadPct;
    if (work.loadPct > (work.highPct[k] as number)) work.highPct[k] = work.loadPct;
  }
  const isCold = tempC < sensorColdC && work.runMinutes > warmMinutes && work.loadPct >= work.config.profile.noLoadPct;
  work.coldMinutes[k] = isCold ? (work.coldMinutes[k] as number) + 1 : 0;
  if (work.openWhy[k] === coldWhy && tempC >= sensorColdC) close(work, k, atMs);
  if (work.openWhy[k] !== 0) return;
  const sinceMs = work.sinceMs[k] as number;
  const moved = (work.highPct[k] as number) - (work.lowPct[k] as number);
  if (atMs - sinceMs >= sensorStuckS * 1000 && moved >= sensorLoadRangePct)
    open(work, k, { why: stuckWhy, sinceMs, atMs });
  else if ((work.coldMinutes[k] as number) >= coldMinutesWanted) {
    open(work, k, { why: coldWhy, sinceMs: atMs - (coldMinutesWanted - 1) * minuteMs, atMs });
  }
}

function open(work: Work, k: number, how: { why: number; sinceMs: number; atMs: number }): void {
  work.openMs[k] = how.sinceMs + k;
  work.openWhy[k] = how.why;
  work.changes.push({ ...channelSuspicion(k), atMs: how.atMs, isOn: true });
}

function close(work: Work, k: number, atMs: number): void {
  work.events.push(channelEvent(work.config, work, { k, endedMs: atMs }));
  work.changes.push({ ...channelSuspicion(k), atMs, isOn: false });
  work.openMs[k] = 0;
  work.openWhy[k] = 0;
}

/** A pair is wrong after enough minutes of it, and right again after as many; a minute in between counts for neither. */
function watchPair(work: Work, p: number, at: { atMs: number; offK: number }): void {
  const { sensorSwapK, sensorSwapS } = work.config.thresholds;
  const wantedMinutes = Math.ceil((sensorSwapS * 1000) / minuteMs);
  const { atMs, offK } = at;
  const isOpen = work.pairOpenMs[p] !== 0;
  const counts = isOpen ? offK !== 0 && offK < sensorSwapK / 2 : offK > sensorSwapK;
  if (!counts) {
    work.pairMinutes[p] = 0;
    return;
  }
  if (work.pairMinutes[p] === 0) work.pairFromMs[p] = atMs;
  work.pairMinutes[p] = (work.pairMinutes[p] as number) + 1;
  if ((work.pairMinutes[p] as number) < wantedMinutes) return;
  work.pairMinutes[p] = 0;
  if (!isOpen) work.pairOpenMs[p] = (work.pairFromMs[p] as number) + count + p;
  work.changes.push({ ...pairSuspicion(p), atMs, isOn: !isOpen });
  work.pairOffK[p] = rounded(offK, 1);
  if (!isOpen) return;
  work.events.push(pairEvent(work.config, work, { p, endedMs: atMs }));
  work.pairOpenMs[p] = 0;
}
