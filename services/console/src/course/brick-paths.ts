/** Outlines of bricks: each kind has its own build, so that it reads without colour. */

import type { Brick, BrickKind } from './lay-bricks.js';

/** Drawing units: pitch of a column with its joint, width of a brick, height of a whole column and of one brick. */
export const brickPitch = 8;
const brickWidth = 7;
export const courseHeight = 40;
const layerPitch = 5;
const brickHeight = 4;
/** A quarter hour with a moment of running still shows. */
const leastHeight = 4;

export type CoursePaths = Readonly<Partial<Record<BrickKind | 'cap' | 'ledge', string>>>;

/**
 * One path for each kind of brick in a course, in drawing units; the bed lies at the bottom.
 * A column is a stack of bricks as high as the engine ran. Bricks below dosing release are hollow, those below the
 * window thin, those in it solid, those above it solid under a dark cap; a running engine without a temperature is a
 * post, and what was not observed is hatched. `ledge` underlines columns that mostly idled.
 */
export function coursePaths(bricks: readonly Brick[]): CoursePaths {
  const paths: Partial<Record<keyof CoursePaths, string>> = {};
  const add = (name: keyof CoursePaths, path: string) => {
    paths[name] = (paths[name] ?? '') + path;
  };
  bricks.forEach((brick, column) => {
    const x = column * brickPitch;
    const height = Math.max(leastHeight, Math.round(brick.heightRatio * courseHeight));
    if (brick.kind === 'off') return;
    if (brick.kind === 'unobserved') add('unobserved', hatch(x));
    else if (brick.kind === 'unmeasured') add('unmeasured', box(x + 2.5, courseHeight - height, 2, height));
    else add(brick.kind, stack(x, height, builds[brick.kind]));
    if (brick.kind === 'above') add('cap', box(x, courseHeight - height, brickWidth, 2.5));
    if (brick.isIdle) add('ledge', box(x, courseHeight + 2, brickPitch, 2));
  });
  return paths;
}

type Build = (x: number, top: number, height: number) => string;

const builds: Readonly<Record<'cold' | 'below' | 'in' | 'above', Build>> = {
  cold: (x, top, height) => {
    const shell = box(x, top, brickWidth, height);
    return height < 3 ? shell : shell + hole(x + 1.2, top + 1.1, brickWidth - 2.4, height - 2.2);
  },
  below: (x, top, height) => box(x, top + height / 2, brickWidth, height / 2),
  in: (x, top, height) => box(x, top, brickWidth, height),
  above: (x, top, height) => box(x, top, brickWidth, height),
};

function stack(x: number, height: number, build: Build): string {
  let path = '';
  for (let bottom = 0; bottom < height; bottom += layerPitch) {
    const brick = Math.min(brickHeight, height - bottom);
    path += build(x, courseHeight - bottom - brick, brick);
  }
  return path;
}

function hatch(x: number): string {
  let path = '';
  for (let y = brickPitch; y <= courseHeight; y += brickPitch) path += `M${x} ${y}l${brickPitch} ${-brickPitch}`;
  return path;
}

function box(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}h${width}v${height}h${-width}z`;
}

/** The same box wound the other way, which cuts it out under the non-zero rule. */
function hole(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}v${height}h${width}v${-height}z`;
}
