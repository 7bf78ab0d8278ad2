/** The DEF ledger: minutes of tank, dosing and fuel, and what is found in them. */

import { defPerFuelRatio, foldConsumption, noConsumption, openConsumption } from './def-consumption.js';
import { foldForecast, noForecast, openForecast } from './def-forecast.js';
import { adviseAtStop, foldFrost, noFrost, openHeater } from './def-frost.js';
import { foldLevel, noLevel } from './def-level.js';
import { foldLow, notLow, openLow } from './def-low.js';
import { foldQuality, goodQuality, openQuality } from './def-quality.js';
import { emptyMinute, type OpenMinute, readMinute } from './def-reading.js';
import type { DetectorConfig, DetectorEvent } from './detector.js';
import type { FurtherChannel } from './further-channels.js';
import { firstAtOrAfter, markAfterMs } from './minute-marks.js';
import { firstRunningMode, modeCode, type ObservedBlock } from './observed-block.js';
import { repeatOpen } from './repeat-open.js';

/** The state of the ledger: the minute that goes on, and each part's own. */
export interface DefLedgerState {
  readonly minute: Readonly<OpenMinute>;
  readonly level: typeof noLevel;
  readonly low: typeof notLow;
  readonly forecast: typeof noForecast;
  readonly use: typeof noConsumption;
  readonly quality: typeof goodQuality;
  readonly frost: typeof noFrost;
}

/** Signals any of which opens the ledger. */
const defChannels = [
  'defLevelPct',
  'defConcentrationPct',
  'defPropertyState',
  'defTempC',
] as const satisfies readonly FurtherChannel[];

/**
 * Keeps the ledger: fills, drops, low level, time to the low level, use against fuel, quality, frost and heater.
 *
 * A tank is slow: its level is the mean of each minute of the machine's time, everything else of it is read once a minute.
 * Missing: each part falls silent by itself; before the first DEF signal there is nothing, and no cost.
 */
export const defLedgerDetector = repeatOpen<DefLedgerState>({
  name: 'def-ledger',
  initial: () => ({
    minute: emptyMinute,
    level: noLevel,
    low: notLow,
    forecast: noForecast,
    use: noConsumption,
    quality: goodQuality,
    frost: noFrost,
  }),
  step: (config, state, block) => {
    const from = state.minute.markMs === 0 ? firstSignal(block) : 0;
    if (from >= block.count) return { state, events: [] };
    const ledger = opened(config, state);
    if (ledger.minute.markMs === 0) startMinute(ledger.minute, block.timeMs[from] as number);
    fold(ledger, block, from);
    const { minute, level, low, forecast, use, quality, frost, events } = ledger;
    return { state: { minute, level, low, forecast, use, quality, frost }, events };
  },
  open: (config, state) =>
    [
      openLow(config, state.low),
      openForecast(config, state.forecast, state.level),
      openConsumption(config, state.use),
      openQuality(config, state.quality),
      openHeater(config, state.frost),
    ].filter((event) => event !== null),
});

type Ledger = ReturnType<typeof opened>;

function opened(config: DetectorConfig, state: DefLedgerState) {
  return {
    minute: { ...state.minute },
    level: { ...state.level },
    low: { ...state.low },
    forecast: { ...state.forecast },
    use: { ...state.use },
    quality: { ...state.quality },
    frost: { ...state.frost },
    config,
    events: [] as DetectorEvent[],
  };
}

/** The first stretch with any DEF signal; `count` when there is none. */
function firstSignal(block: ObservedBlock): number {
  let first = block.count;
  for (const name of defChannels) {
    const column = block.further[name];
    if (column === undefined) continue;
    let i = 0;
    while (i < first && (column[i] as number) !== (column[i] as number)) i++;
    first = i;
  }
  return first;
}

function startMinute(minute: OpenMinute, atMs: number): void {
  minute.markMs = markAfterMs(atMs);
  minute.fromMs = atMs;
  minute.levelMs = 0;
  minute.levelSum = 0;
  minute.runMs = 0;
  minute.offMs = 0;
  minute.unseenMs = 0;
  minute.fuelMs = 0;
  minute.fuelSum = 0;
  minute.doseMs = 0;
  minute.doseSum = 0;
}

/** Goes from minute to minute, and to each stop within. */
function fold(ledger: Ledger, block: ObservedBlock, first: number): void {
  const { timeMs, count, stops } = block;
  let nextStop = 0;
  while (nextStop < stops.length && (stops[nextStop]?.index as number) < first) nextStop++;
  let i = first;
  while (i < count) {
    const mark = firstAtOrAfter(timeMs, { from: i, to: count }, ledger.minute.markMs);
    const stop = stops[nextStop];
    if (stop !== undefined && stop.index < mark) {
      gather(ledger.minute, block, { from: i, to: stop.index + 1 });
      keep(ledger, adviseAtStop(ledger.config, ledger.frost, { level: ledger.level, atMs: stop.atMs }));
      nextStop++;
      i = stop.index + 1;
      continue;
    }
    if (mark > i) gather(ledger.minute, block, { from: i, to: mark });
    if (mark < count) close(ledger, block, mark);
    i = mark;
  }
}

/** The hot loop: sums of level, running time, fuel and dosing. */
function gather(minute: OpenMinute, block: ObservedBlock, range: { from: number; to: number }): void {
  const { heldMs, restMs, mode, restMode, fuelRateLPerH } = block;
  const { defLevelPct: levels, defDosingGPerH: doses } = block.further;
  // Number() tells the compiler that these are numbers and nothing else: without it each sum is boxed at each sample.
  let levelMs = Number(minute.levelMs);
  let levelSum = Number(minute.levelSum);
  let runMs = Number(minute.runMs);
  let offMs = Number(minute.offMs);
  let unseenMs = Number(minute.unseenMs);
  let fuelMs = Number(minute.fuelMs);
  let fuelSum = Number(minute.fuelSum);
  let doseMs = Number(minute.doseMs);
  let doseSum = Number(minute.doseSum);
  for (let i = range.from; i < range.to; i++) {
    const held = heldMs[i] as number;
    if (levels !== undefined) {
      const level = levels[i] as number;
      if (level === level) {
        levelMs += held;
        levelSum += level * held;
      }
    }
    const code = mode[i] as number;
    if (code >= firstRunningMode) {
      runMs += held;
      const fuel = fuelRateLPerH[i] as number;
      if (fuel === fuel) {
        fuelMs += held;
        fuelSum += fuel * held;
      }
      if (doses !== undefined) {
        const dose = doses[i] as number;
        if (dose === dose) {
          doseMs += held;
          doseSum += dose * held;
        }
      }
    } else if (code === modeCode.unobserved) unseenMs += held;
    else offMs += held;
    const rest = restMs[i] as number;
    if (rest > 0) {
      if (restMode[i] === modeCode.off) offMs += rest;
      else unseenMs += rest;
    }
  }
  minute.levelMs = levelMs;
  minute.levelSum = levelSum;
  minute.runMs = runMs;
  minute.offMs = offMs;
  minute.unseenMs = unseenMs;
  minute.fuelMs = fuelMs;
  minute.fuelSum = fuelSum;
  minute.doseMs = doseMs;
  minute.doseSum = doseSum;
}

/** Closes the minute at the first sample after it, and hands it to each part. */
function close(ledger: Ledger, block: ObservedBlock, i: number): void {
  const { config, level, use } = ledger;
  const { defConcentrationPct, defPropertyState, defTempC, defTankHeaterPct } = block.further;
  const slow = {
    concentrationPct: defConcentrationPct?.[i] ?? Number.NaN,
    propertyState: defPropertyState?.[i] ?? Number.NaN,
    tankTempC: defTempC?.[i] ?? Number.NaN,
    ambientTempC: block.ambientTempC[i] as number,
    heaterPct: defTankHeaterPct?.[i] ?? Number.NaN,
    exhaustTempC: block.exhaustTempC[i] as number,
  };
  const reading = readMinute(ledger.minute, slow, {
    defPerFuelRatio: defPerFuelRatio(config, use),
    releaseTempC: config.profile.dosingReleaseTempC,
  });
  const { fellPct, event } = foldLevel(config, level, reading);
  keep(ledger, event);
  keep(ledger, foldLow(config, ledger.low, { level, atMs: reading.atMs }));
  keep(ledger, foldForecast(config, ledger.forecast, { level, reading, wasFilled: event?.kind === 'def-fill' }));
  keep(ledger, foldConsumption(config, use, { reading, fellPct }));
  keep(ledger, foldQuality(config, ledger.quality, reading));
  keep(ledger, foldFrost(config, ledger.frost, reading));
  startMinute(ledger.minute, block.timeMs[i] as number);
}

function keep(ledger: Ledger, event: DetectorEvent | null): void {
  if (event !== null) ledger.events.push(event);
}
