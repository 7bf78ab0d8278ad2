/** What tank, dosing and NOx say about a fault of the DEF system. */

import { defQualityLimits } from '@warmbrick/aftertreatment';
import { rounded } from '../figures.js';
import type { SignalView, Stretch } from './signal-view.js';
import { type Testimony, testimony, troubleStretch, type WitnessContext } from './testimony.js';
import type { Trouble } from './trouble.js';

/** Levels that agree and disagree with a low tank, %. Source: warning at 10 %, domain notes 7.2; the rest is judgement. */
const lowTankPct = 13;
const fullTankPct = 25;
/** A tank does not empty by this much so fast, whether used, leaking or drained. Source: engineering judgement. */
const impossibleFallPct = 20;
const fallMs = 2 * 60_000;
/** Sensors of concentration are good to this, % urea. Source: 1-2 %, from memory. */
const toleranceP = 1.5;
/** Codes of SPN 3521 that are not DEF as it should be. Source: domain notes on J1939, 2b. */
const wrongFluids: Readonly<Record<number, string>> = {
  0: 'too concentrated',
  1: 'too weak',
  2: 'diesel',
  13: 'an unknown fluid',
};
/** Frozen below, and surely liquid above, degC. Source: crystallisation at -11.5 C, domain notes 1.1. */
const frozenC = -9;
const liquidC = 0;
/** Conversion at working temperature that is poor, and that is sound. Source: curves of the domain notes 4.1. */
const poorConversion = 0.6;
const soundConversion = 0.8;
/** NOx before the catalyst that is enough to judge by, ppm. Source: engineering judgement. */
const leastNoxPpm = 100;

export function defTestimony(trouble: Trouble, context: WitnessContext): Testimony[] {
  const { inducementClass, isOfValue, known } = trouble.description;
  const stretch = troubleStretch(trouble, context.derateStartMs);
  if (inducementClass === 'level' && isOfValue) return levelTestimony(stretch, context);
  if (inducementClass === 'quality') return qualityTestimony(trouble, stretch, context);
  if (inducementClass === 'dosing') {
    const isOfCold = known !== null && (coldSpns.includes(known.spn) || known.channel === 'defTempC');
    return isOfCold ? coldTestimony(stretch, context) : dosingTestimony(stretch, context);
  }
  return [];
}

/** Heaters and temperatures of the DEF system. Source: `known-spns.ts`. */
const coldSpns: readonly number[] = [3363, 4354, 4355, 4356, 4357, 5491, 5745, 5746, 5798];

function levelTestimony(stretch: Stretch, context: WitnessContext): Testimony[] {
  const { view, derateStartMs } = context;
  const values = view.values('defLevelPct', { fromMs: stretch.fromMs - fallMs, toMs: derateStartMs });
  const last = values.at(-1);
  if (last === undefined) return [];
  const fall = steepestFall(values);
  const figures = { lastLevelPct: rounded(last.value, 1), steepestFallPct: rounded(fall, 1) };
  if (fall >= impossibleFallPct) {
    const suspect = {
      channel: 'defLevelPct',
      why: `the level fell by ${rounded(fall, 0)} points within two minutes, faster than a tank empties`,
    } as const;
    const factor = context.hasSensorTrouble('defLevelPct') ? 0.3 : 0.8;
    return [
      testimony('The level fell faster than the tank can empty: the sensor may be lying.', factor, {
        figures,
        suspect,
        kind: 'sensor',
      }),
    ];
  }
  if (last.value <= lowTankPct) return [testimony('The tank was as low as the code says.', 1.7, { figures })];
  if (last.value < fullTankPct) return [testimony('The tank was fairly low.', 1.1, { figures })];
  const suspect = {
    channel: 'defLevelPct',
    why: `it still read ${rounded(last.value, 0)} % while a code said the tank was low`,
  } as const;
  return [testimony('The level signal says that there was DEF enough.', 0.35, { figures, suspect })];
}

/** Most that the level fell within two minutes, %; samples further apart than that tell nothing. */
function steepestFall(values: readonly { timeMs: number; value: number }[]): number {
  let most = 0;
  let from = 0;
  for (let i = 1; i < values.length; i++) {
    const { timeMs, value } = values[i] as { timeMs: number; value: number };
    while ((values[from] as { timeMs: number }).timeMs < timeMs - fallMs) from++;
    for (let k = from; k < i; k++) most = Math.max(most, (values[k] as { value: number }).value - value);
  }
  return most;
}

function qualityTestimony(trouble: Trouble, stretch: Stretch, context: WitnessContext): Testimony[] {
  const { view } = context;
  const list: Testimony[] = [];
  const state = view.stats('defPropertyState', stretch);
  const said = state === null ? undefined : wrongFluids[state.last];
  const { isOfValue } = trouble.description;
  if (said !== undefined && isOfValue) list.push(testimony(`The quality sensor takes the fluid for ${said}.`, 1.7));
  const urea = view.stats('defConcentrationPct', stretch);
  if (urea !== null && isOfValue && said === undefined) {
    const { min, max } = defQualityLimits.ureaPct;
    const isOff = urea.mean < min - toleranceP || urea.mean > max + toleranceP;
    const figures = { meanUreaPct: rounded(urea.mean, 2), lowPct: min, highPct: max };
    if (isOff) list.push(testimony('The concentration was outside ISO 22241-1.', 1.7, { figures }));
    else list.push(testimony('The concentration was right.', isByNox(trouble) ? 1 : 0.4, { figures }));
  }
  const fills = context.findings.filter(
    ({ kind, startedMs }) =>
      kind === 'def-fill' && startedMs <= trouble.anchorMs && startedMs > trouble.anchorMs - 20 * 3_600_000,
  );
  if (fills.length > 0 && isOfValue) list.push(testimony('The tank was filled within the day before.', 1.15));
  return [...list, ...conversionTestimony(stretch, context)];
}

/** Numbers that are judged by NOx and not by a sensor in the tank. */
function isByNox(trouble: Trouble): boolean {
  return trouble.description.known?.spn === 4364 || trouble.description.known?.spn === 3226;
}

function dosingTestimony(stretch: Stretch, context: WitnessContext): Testimony[] {
  const { view } = context;
  const list: Testimony[] = [];
  const requested = view.stats('defDosingRequestedGPerH', stretch);
  const dosed = view.stats('defDosingGPerH', stretch);
  if (requested !== null && dosed !== null && requested.mean > 20) {
    const figures = { requestedGPerH: rounded(requested.mean, 0), dosedGPerH: rounded(dosed.mean, 0) };
    const ratio = dosed.mean / requested.mean;
    if (ratio < 0.5) list.push(testimony('Far less was dosed than was asked for.', 1.7, { figures }));
    else if (ratio > 0.85) list.push(testimony('What was asked for was dosed.', 0.6, { figures }));
  } else if (dosed !== null && isHot(view, stretch, context.profile.dosingReleaseTempC)) {
    const noxIn = view.stats('noxInPpm', stretch);
    const figures = { dosedGPerH: rounded(dosed.mean, 0), noxInPpm: noxIn === null ? null : rounded(noxIn.mean, 0) };
    if (dosed.mean < 5)
      list.push(testimony('Nothing was dosed although the exhaust was hot enough.', 1.6, { figures }));
  }
  return [...list, ...conversionTestimony(stretch, context)];
}

function isHot(view: SignalView, stretch: Stretch, releaseTempC: number): boolean {
  const gas = view.stats('scrInletTempC', stretch) ?? view.stats('exhaustTempC', stretch);
  return gas !== null && gas.mean > releaseTempC + 30;
}

/** NOx before and behind a hot catalyst. */
function conversionTestimony(stretch: Stretch, context: WitnessContext): Testimony[] {
  const { view, profile } = context;
  const before = view.stats('noxInPpm', stretch);
  const behind = view.stats('noxOutPpm', stretch);
  if (before === null || behind === null || before.mean < leastNoxPpm) return [];
  if (!isHot(view, stretch, profile.dosingReleaseTempC)) return [];
  const conversion = 1 - behind.mean / before.mean;
  const figures = {
    noxInPpm: rounded(before.mean, 0),
    noxOutPpm: rounded(behind.mean, 0),
    conversionRatio: rounded(conversion, 3),
  };
  if (conversion < poorConversion) return [testimony('The hot catalyst converted little NOx.', 1.35, { figures })];
  if (conversion > soundConversion)
    return [testimony('The hot catalyst converted NOx as it should.', 0.65, { figures })];
  return [];
}

function coldTestimony(stretch: Stretch, context: WitnessContext): Testimony[] {
  const { view } = context;
  const tank = view.stats('defTempC', stretch);
  const list: Testimony[] = [];
  if (tank !== null) {
    const figures = { coldestTankC: rounded(tank.min, 1), lastTankC: rounded(tank.last, 1) };
    if (tank.min < frozenC) list.push(testimony('The tank was frozen.', 1.6, { figures }));
    else if (tank.min > liquidC) list.push(testimony('The tank was never near freezing.', 0.55, { figures }));
    const heater = view.stats('defTankHeaterPct', stretch);
    if (heater !== null && heater.mean > 50 && tank.last - tank.first < 3 && tank.min < frozenC) {
      list.push(
        testimony('The heater was driven and the tank did not thaw.', 1.2, {
          figures: { heaterPct: rounded(heater.mean, 0) },
        }),
      );
    }
  } else {
    const air = view.stats('ambientTempC', stretch);
    if (air === null) return [];
    const figures = { ambientC: rounded(air.mean, 1) };
    if (air.mean < frozenC) list.push(testimony('It was cold enough to freeze DEF.', 1.25, { figures }));
    else if (air.mean > 5) list.push(testimony('It was too warm for DEF to freeze.', 0.6, { figures }));
  }
  return list;
}
