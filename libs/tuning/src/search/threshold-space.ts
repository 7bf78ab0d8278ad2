/** The space that is searched: some thresholds between bounds, as points in the unit cube. */

import type { ThresholdSet, ThresholdValues } from '@warmbrick/analysis';
import type { CatalystWindow } from '@warmbrick/signals';
import type { ThresholdName } from '../traced-thresholds.js';
import { brokenConstraints } from './constraints.js';

export interface ThresholdAxis {
  readonly name: ThresholdName;
  readonly min: number;
  readonly max: number;
}

/** A place in the unit cube, a coordinate an axis. */
export type Point = readonly number[];

export interface ThresholdSpace {
  readonly axes: readonly ThresholdAxis[];
  /** Where the set that is searched from lies. */
  readonly start: Point;
  /** The values at a point, rounded so that they can be read; all others are those of the set searched from. */
  valuesAt(point: Point): ThresholdValues;
  pointOf(values: ThresholdValues): Point;
  /** Whether the values keep the constraints. */
  isAllowed(values: ThresholdValues): boolean;
}

/** Steps that a threshold is told apart in. Source: engineering judgement: finer than data can tell. */
const stepsAcross = 1000;
/** Bounds further apart than this factor are searched by ratio, not by difference. Source: engineering judgement. */
const wideRatio = 20;

/** Creates the space of some thresholds around a set. */
export function createSpace(
  axes: readonly ThresholdAxis[],
  base: ThresholdSet,
  windows: readonly CatalystWindow[] = [],
): ThresholdSpace {
  const scales = axes.map(scaleOf);
  const pointOf = (values: ThresholdValues) => axes.map((axis, k) => (scales[k] as Scale).toUnit(values[axis.name]));
  return {
    axes,
    start: pointOf(base.values),
    pointOf,
    valuesAt(point) {
      const moved = axes.map((axis, k) => [axis.name, (scales[k] as Scale).fromUnit(point[k] as number)]);
      return { ...base.values, ...(Object.fromEntries(moved) as Partial<ThresholdValues>) };
    },
    isAllowed: (values) => brokenConstraints(values, windows).length === 0,
  };
}

interface Scale {
  toUnit(value: number): number;
  fromUnit(coordinate: number): number;
}

function scaleOf({ min, max }: ThresholdAxis): Scale {
  const isByRatio = min > 0 && max / min > wideRatio;
  const step = readableStep((max - min) / stepsAcross);
  const clamp = (x: number) => Math.min(1, Math.max(0, x));
  const round = (value: number) => {
    const rounded = Math.round(value / step) * step;
    // The step is a power of ten times 1, 2 or 5; this takes away what is left of binary fractions.
    return Math.min(max, Math.max(min, Number(rounded.toPrecision(12))));
  };
  if (!isByRatio) {
    return {
      toUnit: (value) => clamp((value - min) / (max - min)),
      fromUnit: (x) => round(min + clamp(x) * (max - min)),
    };
  }
  const span = Math.log(max / min);
  return {
    toUnit: (value) => clamp(Math.log(Math.max(min, value) / min) / span),
    fromUnit: (x) => round(min * Math.exp(clamp(x) * span)),
  };
}

/** The largest of 1, 2, 5 times a power of ten that is no larger. */
function readableStep(step: number): number {
  const power = 10 ** Math.floor(Math.log10(step));
  const lead = step / power;
  return (lead >= 5 ? 5 : lead >= 2 ? 2 : 1) * power;
}

/** Distance in the unit cube. */
export function distance(a: Point, b: Point): number {
  return Math.hypot(...a.map((x, k) => x - (b[k] as number)));
}
