/** Two bricks in series behind the turbine: oxidation catalyst with filter, then SCR. */

import { exhaustHeatCapacityKJPerKgK } from './exhaust-temperature.js';
import { chainIntegralS } from './exponential.js';

/** A brick with its can. */
export interface Brick {
  readonly heatCapacityKJPerK: number;
  /** Heat lost to the surroundings, W/K. */
  readonly lossWPerK: number;
}

export interface ExhaustTrain {
  readonly filter: Brick;
  readonly scr: Brick;
}

/**
 * Bricks of a 6-7 litre engine. Source: heat capacity from memory (20-30 kJ/K together); loss engineering judgement, the
 * 8 W/K that the domain notes reckon with, shared out.
 */
export const usualExhaustTrain: ExhaustTrain = {
  filter: { heatCapacityKJPerK: 13, lossWPerK: 4 },
  scr: { heatCapacityKJPerK: 9.5, lossWPerK: 4 },
};

/** Temperatures of the two bricks; each is also that of the gas that leaves it. */
export interface TrainTemps {
  readonly filterTempC: number;
  readonly scrTempC: number;
}

export interface TrainInput {
  /** Gas into the first brick. Not used while nothing flows. */
  readonly gasTempC: number;
  readonly exhaustKgPerH: number;
  readonly ambientC: number;
  readonly elapsedS: number;
}

/**
 * Time constant of a brick at an exhaust flow, s.
 *
 * tau = Mc / (flow cp + hA). Range: grows without bound as the flow stops; Infinity without flow and loss.
 * Missing: NaN gives NaN. Source: domain notes, section 5.3; cp 1.089 kJ/(kg K) read, from SAE 880282.
 */
export function brickTauS({ heatCapacityKJPerK, lossWPerK }: Brick, exhaustKgPerH: number): number {
  return (heatCapacityKJPerK * 1000) / (flowWPerK(exhaustKgPerH) + lossWPerK);
}

/**
 * Temperatures after a step with constant gas, flow and ambient: exact, so that splitting the step changes nothing.
 *
 * Range: any step from milliseconds to days; results stay between the coldest and the hottest of what went in.
 * Missing: a NaN in what is needed, or a time that is not above nought, leaves both as they were.
 * Source: own arithmetic: two first-order lags in series, equal time constants included.
 */
export function stepExhaustTrain(
  temps: TrainTemps,
  input: TrainInput,
  train: ExhaustTrain = usualExhaustTrain,
): TrainTemps {
  const { exhaustKgPerH, ambientC, elapsedS } = input;
  const gasTempC = exhaustKgPerH > 0 ? input.gasTempC : ambientC;
  const sum = gasTempC + ambientC + exhaustKgPerH;
  if (!(elapsedS > 0) || sum !== sum || exhaustKgPerH < 0) return temps;
  const first = rates(train.filter, exhaustKgPerH);
  const second = rates(train.scr, exhaustKgPerH);
  const firstSteadyC = ambientC + first.gasShareRatio * (gasTempC - ambientC);
  const secondSteadyC = ambientC + second.gasShareRatio * (firstSteadyC - ambientC);
  const firstOffK = temps.filterTempC - firstSteadyC;
  const secondOffK = temps.scrTempC - secondSteadyC;
  const handedOn = second.gasShareRatio * second.perS * chainIntegralS(first.perS, second.perS, elapsedS);
  return {
    filterTempC: firstSteadyC + firstOffK * Math.exp(-first.perS * elapsedS),
    scrTempC: secondSteadyC + secondOffK * Math.exp(-second.perS * elapsedS) + firstOffK * handedOn,
  };
}

interface BrickRates {
  readonly perS: number;
  /** Part of the exchange that is with the gas, the rest being with the surroundings. */
  readonly gasShareRatio: number;
}

function rates(brick: Brick, exhaustKgPerH: number): BrickRates {
  const flow = flowWPerK(exhaustKgPerH);
  const all = flow + brick.lossWPerK;
  return { perS: all / (brick.heatCapacityKJPerK * 1000), gasShareRatio: all > 0 ? flow / all : 0 };
}

function flowWPerK(exhaustKgPerH: number): number {
  return (exhaustKgPerH / 3.6) * exhaustHeatCapacityKJPerKgK;
}
