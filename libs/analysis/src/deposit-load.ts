/** Urea deposits on the way to the SCR catalyst: three pools that build up at low and burn off at high temperature. */

import { ureaDepositStep, ureaStickingRatio } from '@warmbrick/aftertreatment';
import type { DetectorConfig } from './detector.js';
import { firstRunningMode, type ObservedBlock } from './observed-block.js';

/** Grams in the pools: urea and biuret; cyanuric acid; ammelide and harder. */
export interface DepositState {
  readonly solubleG: number;
  readonly cyanuricG: number;
  readonly ammelideG: number;
}

export const initialDeposits: DepositState = { solubleG: 0, cyanuricG: 0, ammelideG: 0 };

/** Density of DEF, g/L, and its share of urea. Source: ISO 22241-1 (1090 kg/m3 at 20 C, 32.5 %). */
const defGPerL = 1090;
const ureaPerDefS = 0.325 / 3600;
/** Dosing at which the spray cools the wall fully, and by how much. Source: from memory (20-60 K); engineering judgement. */
const sprayCoolingK = 40;
const coolingKPerGPerH = sprayCoolingK / 1500;
/** Below this wall temperature nothing decomposes in the model. Source: urea melts at 133 C, from memory. */
const inertC = 130;
const hottestC = 1100;
/** Lengths of stretch whose step maps are kept; recordings have one or two. */
const keptLengths = 16;

/** Step maps of one length, nine numbers a degree; NaN where none was reckoned yet. */
type MapsOfLength = Float64Array;
const mapsByLengthMs = new Map<number, MapsOfLength>();
const mapSize = 9;
/** The map of a stretch of a length that is not kept. */
const passing = new Float64Array(mapSize);
/** Less than this is none: what decays for ever would end in numbers that are slow to reckon with. */
const traceG = 1e-12;
const stickingByDegree = Float64Array.from({ length: hottestC + 1 }, (_, tempC) => ureaStickingRatio(tempC));

/**
 * Moves the pools over a block, exactly for conditions that hold over a stretch.
 *
 * Dosing is what the machine sends (defDosingGPerH); else, from the dosing release temperature on, the profile's share of
 * the fuel. The wall is as warm as the SCR inlet (or the exhaust temperature), less the cooling by the spray.
 * Missing: without temperature the pools stand still; without dosing and fuel nothing is added.
 * Source: domain notes, section 3.4: rates published, yields and shares of the pools are guesses.
 */
export function foldDeposits(config: DetectorConfig, state: DepositState, block: ObservedBlock): DepositState {
  const { mode, heldMs, exhaustTempC, fuelRateLPerH, further } = block;
  const { defDosingGPerH, scrInletTempC } = further;
  const columns = { mode, heldMs, exhaustTempC, fuelRateLPerH, defDosingGPerH, scrInletTempC };
  const work: Work = {
    releaseC: config.profile.dosingReleaseTempC,
    defGPerFuelL: config.profile.defToFuelRatio * defGPerL,
    solubleG: state.solubleG,
    cyanuricG: state.cyanuricG,
    ammelideG: state.ammelideG,
    mapsLengthMs: -1,
    maps: passing,
  };
  foldStretches(work, columns, block.count);
  return { solubleG: work.solubleG, cyanuricG: work.cyanuricG, ammelideG: work.ammelideG };
}

interface Work {
  readonly releaseC: number;
  readonly defGPerFuelL: number;
  solubleG: number;
  cyanuricG: number;
  ammelideG: number;
  /** Length of stretch that `maps` are for. */
  mapsLengthMs: number;
  maps: MapsOfLength;
}

interface Columns extends Pick<ObservedBlock, 'mode' | 'heldMs' | 'exhaustTempC' | 'fuelRateLPerH'> {
  readonly defDosingGPerH: Float32Array | undefined;
  readonly scrInletTempC: Float32Array | undefined;
}

// One loop is what makes it fast; it stays in one piece.
// oxlint-disable-next-line max-lines-per-function
function foldStretches(work: Work, columns: Columns, count: number): void {
  const { mode, heldMs, exhaustTempC, fuelRateLPerH, defDosingGPerH, scrInletTempC } = columns;
  const { releaseC, defGPerFuelL } = work;
  for (let i = 0; i < count; i++) {
    if ((mode[i] as number) < firstRunningMode) continue;
    const held = heldMs[i] as number;
    let tempC = scrInletTempC === undefined ? Number.NaN : (scrInletTempC[i] as number);
    if (tempC !== tempC) tempC = exhaustTempC[i] as number;
    if (tempC !== tempC || held <= 0) continue;
    let defGPerH = defDosingGPerH === undefined ? Number.NaN : (defDosingGPerH[i] as number);
    if (defGPerH !== defGPerH) {
      const fuel = fuelRateLPerH[i] as number;
      defGPerH = tempC >= releaseC && fuel === fuel ? fuel * defGPerFuelL : 0;
    }
    if (defGPerH === 0 && work.solubleG + work.cyanuricG + work.ammelideG === 0) continue;
    const wallC = tempC - Math.min(sprayCoolingK, defGPerH * coolingKPerGPerH);
    const at = wallC > 0 ? Math.min(hottestC, (wallC + 0.5) | 0) : 0;
    const stickingGPerS = defGPerH * ureaPerDefS * (stickingByDegree[at] as number);
    if (at < inertC) {
      work.solubleG += (stickingGPerS * held) / 1000;
      continue;
    }
    if (held !== work.mapsLengthMs) {
      work.mapsLengthMs = held;
      work.maps = mapsOf(held);
    }
    const { maps, solubleG, cyanuricG, ammelideG } = work;
    const k = maps === passing ? 0 : at * mapSize;
    if (maps === passing || maps[k] !== maps[k]) reckon(maps, k, { heldMs: held, tempC: at });
    const ammelideNext =
      ammelideG * (maps[k + 2] as number) +
      cyanuricG * (maps[k + 5] as number) +
      solubleG * (maps[k + 4] as number) +
      stickingGPerS * (maps[k + 8] as number);
    const cyanuricNext =
      cyanuricG * (maps[k + 1] as number) +
      solubleG * (maps[k + 3] as number) +
      stickingGPerS * (maps[k + 7] as number);
    const solubleNext = solubleG * (maps[k] as number) + stickingGPerS * (maps[k + 6] as number);
    work.solubleG = solubleNext > traceG ? solubleNext : 0;
    work.cyanuricG = cyanuricNext > traceG ? cyanuricNext : 0;
    work.ammelideG = ammelideNext > traceG ? ammelideNext : 0;
  }
}

/** The maps of a length; for one beyond those that are kept the passing one. */
function mapsOf(heldMs: number): MapsOfLength {
  const known = mapsByLengthMs.get(heldMs);
  if (known !== undefined) return known;
  if (mapsByLengthMs.size >= keptLengths) return passing;
  const maps = new Float64Array((hottestC + 1) * mapSize).fill(Number.NaN);
  mapsByLengthMs.set(heldMs, maps);
  return maps;
}

function reckon(maps: MapsOfLength, at: number, { heldMs, tempC }: { heldMs: number; tempC: number }): void {
  const step = ureaDepositStep(tempC, heldMs / 1000);
  maps.set(
    [
      step.keepSoluble,
      step.keepCyanuric,
      step.keepAmmelide,
      step.solubleToCyanuric,
      step.solubleToAmmelide,
      step.cyanuricToAmmelide,
      step.newInSoluble,
      step.newInCyanuric,
      step.newInAmmelide,
    ],
    at,
  );
}
