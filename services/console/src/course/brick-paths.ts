/** Outlines of bricks: each kind has its own build, so that it reads without colour. */

import type { Brick, BrickKind } from './lay-bricks.js';

/** Grid of a brick in drawing units: pitch with its joint, width, and height of a full course. */
export const brickPitch = 8;
const brickWidth = 7;
export const courseHeight = 40;
/** A quarter hour with a moment of running still shows. */
const leastHeight = 5;

export type CoursePaths = Readonly<Partial<Record<BrickKind | 'cap' | 'ledge', string>>>;

/**
 * One path for each kind of brick in a course, in drawing units; height 0 lies at the bottom.
 * Cold bricks are hollow, those below the window are laid in slices, those in it are solid, those above it are solid
 * under a dark cap; unmeasured ones are posts, unobserved ones hatched. `ledge` underlines bricks that mostly idled.
 */
export function coursePaths(bricks: readonly Brick[]): CoursePaths {
  const paths: Record<string, string> = {};
  const add = (name: string, path: string) => {
    paths[name] = (paths[name] ?? '') + path;
  };
  bricks.forEach((brick, index) => {
    const x = index * brickPitch;
    const height = Math.max(leastHeight, Math.round(brick.heightRatio * courseHeight));
    if (brick.kind === 'off') return;
    add(brick.kind, builds[brick.kind](x, height));
    if (brick.kind === 'above') add('cap', box(x, courseHeight - height, brickWidth, 3));
    if (brick.isIdle) add('ledge', box(x, courseHeight + 2, brickPitch, 2));
  });
  return paths;
}

const builds: Readonly<Record<Exclude<BrickKind, 'off'>, (x: number, height: number) => string>> = {
  cold: (x, height) => {
    const top = courseHeight - height;
    const shell = box(x, top, brickWidth, height);
    return height < 7 ? shell : shell + hole(x + 1.5, top + 1.5, brickWidth - 3, height - 3);
  },
  below: (x, height) => {
    let path = '';
    for (let bottom = 0; bottom < height; bottom += 4) {
      const slice = Math.min(2.8, height - bottom);
      path += box(x, courseHeight - bottom - slice, brickWidth, slice);
    }
    return path;
  },
  in: (x, height) => box(x, courseHeight - height, brickWidth, height),
  above: (x, height) => box(x, courseHeight - height, brickWidth, height),
  unmeasured: (x, height) => box(x + 2.5, courseHeight - height, 2, height),
  unobserved: (x) => {
    let path = '';
    for (let y = brickPitch; y <= courseHeight; y += brickPitch) path += `M${x} ${y}l${brickPitch} ${-brickPitch}`;
    return path;
  },
};

function box(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}h${width}v${height}h${-width}z`;
}

/** The same box wound the other way, which cuts it out under the non-zero rule. */
function hole(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}v${height}h${width}v${-height}z`;
}
