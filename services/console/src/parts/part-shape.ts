/** Outlines of the parts of a score: each has its own build, so that it reads without colour. */

import type { PartLook } from '../format/score-words.js';

/** Drawing units: height of the bar; along it one unit is one point of the score. */
export const barHeight = 8;
/** Joint after every part. */
const joint = 0.8;
/** Bricks of soot and teeth of deposits are at most this long; a short part still shows one of them whole. */
const brickLength = 4;
const brickJoint = 0.7;
const toothLength = 2.4;
const toothHeight = 5.5;

export interface PartSpan {
  readonly start: number;
  readonly points: number;
}

/**
 * One part as a path, its holes wound the other way, or null when it is too short to be seen.
 *
 * Soot is laid in short bricks, deposits are toothed like crystals, cold running is hollow, idling two thin courses, a hot
 * stop solid; an unknown part slopes.
 * Units: points along, drawing units up; the bed lies at `barHeight`.
 */
export function partShape(look: PartLook, { start, points }: PartSpan): string | null {
  const width = points - joint;
  return width <= 0 ? null : builds[look](start, width);
}

type Build = (x: number, width: number) => string;

const builds: Readonly<Record<PartLook, Build>> = {
  'soot-load': (x, width) => {
    const count = Math.max(2, Math.round(width / brickLength));
    const pitch = (width + brickJoint) / count;
    return row(count, (brick) => box(x + brick * pitch, 0, Math.max(0.2, pitch - brickJoint), barHeight));
  },
  deposits: (x, width) => {
    const count = Math.max(1, Math.round(width / toothLength));
    const half = width / count / 2;
    return `M${x} ${barHeight}V${toothHeight}${row(count, () => `l${half} ${-toothHeight}l${half} ${toothHeight}`)}V${barHeight}z`;
  },
  'cold-running': (x, width) => {
    const rim = Math.min(1, width / 3);
    return box(x, 0, width, barHeight) + hole(x + rim, 2, width - 2 * rim, barHeight - 4);
  },
  idling: (x, width) => box(x, 0.6, width, 2.4) + box(x, 5, width, 2.4),
  'hot-stops': (x, width) => box(x, 0, width, barHeight),
  other: (x, width) => `M${x} 0L${x + width} ${barHeight}H${x}z`,
};

function row(count: number, draw: (index: number) => string): string {
  return Array.from({ length: count }, (_, index) => draw(index)).join('');
}

function box(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}h${width}v${height}h${-width}z`;
}

function hole(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}v${height}h${width}v${-height}z`;
}
