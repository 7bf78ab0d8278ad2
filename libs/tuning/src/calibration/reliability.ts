/** How well chances that were told agree with what came. */

export interface ReliabilityBin {
  readonly from: number;
  readonly moments: number;
  readonly came: number;
  /** Mean of the chances told; null in an empty bin. */
  readonly told: number | null;
}

export interface Reliability {
  readonly moments: number;
  readonly came: number;
  /** Mean squared difference. Source: G. W. Brier, 1950. */
  readonly brier: number;
  /** Mean difference of told and seen over the bins, each by its moments. */
  readonly calibrationError: number;
  /** Chance that a moment before trouble was told a higher chance than one without; null without both. */
  readonly areaUnderCurve: number | null;
  readonly bins: readonly ReliabilityBin[];
}

const binCount = 10;

/** The table of ten bins and its figures. Range: chances 0..1. */
export function reliabilityOf(points: readonly { readonly chance: number; readonly hasCome: boolean }[]): Reliability {
  const bins = Array.from({ length: binCount }, (_, k): ReliabilityBin => {
    const inside = points.filter(({ chance }) => Math.min(binCount - 1, Math.floor(chance * binCount)) === k);
    const told = inside.reduce((sum, { chance }) => sum + chance, 0) / inside.length;
    return {
      from: k / binCount,
      moments: inside.length,
      came: inside.filter(({ hasCome }) => hasCome).length,
      told: inside.length === 0 ? null : told,
    };
  });
  const squares = points.reduce((sum, { chance, hasCome }) => sum + (chance - (hasCome ? 1 : 0)) ** 2, 0);
  const off = bins.reduce(
    (sum, { told, moments, came }) => sum + (told === null ? 0 : Math.abs(told * moments - came)),
    0,
  );
  return {
    moments: points.length,
    came: points.filter(({ hasCome }) => hasCome).length,
    brier: squares / points.length,
    calibrationError: off / points.length,
    areaUnderCurve: areaUnderCurve(points),
    bins,
  };
}

/** Mann and Whitney's share of the pairs, ties counting half. */
function areaUnderCurve(points: readonly { readonly chance: number; readonly hasCome: boolean }[]): number | null {
  const sorted = [...points].sort((a, b) => a.chance - b.chance);
  const came = sorted.filter(({ hasCome }) => hasCome).length;
  const stayed = sorted.length - came;
  if (came === 0 || stayed === 0) return null;
  let ranks = 0;
  for (let i = 0; i < sorted.length; ) {
    let j = i;
    while (j < sorted.length && sorted[j]?.chance === sorted[i]?.chance) j++;
    for (let k = i; k < j; k++) if (sorted[k]?.hasCome === true) ranks += (i + 1 + j) / 2;
    i = j;
  }
  return (ranks - (came * (came + 1)) / 2) / (came * stayed);
}
