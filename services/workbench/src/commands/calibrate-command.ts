/** `warmbrick calibrate`: what the score's parts are worth, and which chance a score stands for, by what really came. */

import { OperatingError } from '@warmbrick/runtime';
import { createRandom, seedFrom } from '@warmbrick/simulator';
import {
  chanceAt,
  type FittedWeights,
  fitIsotonic,
  fitWeights,
  type IsotonicStep,
  type Reliability,
  refittedScore,
  reliabilityOf,
  type ScoredMoment,
  splitMachines,
  usualHeldOutRatio,
} from '@warmbrick/tuning';
import type { Command } from 'commander';
import { gatherMoments } from '../calibrate/gather-moments.js';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { createProgress } from '../progress.js';
import { calibrationText } from '../text/calibration-text.js';
import { readTruth } from '../truth/read-truth.js';
import { wholeNumber } from './number-options.js';
import { addSourceOptions, openSource, type SourceFlags } from './source-options.js';

interface CalibrateFlags extends SourceFlags {
  readonly truth: readonly string[];
  readonly outcomes: string;
  readonly horizon: number;
  readonly every: number;
  readonly seed: number;
  readonly json?: boolean;
}

/** What a calibration gives. */
export interface CalibrationDocument {
  readonly outcomes: readonly string[];
  readonly horizonH: number;
  readonly machines: { readonly fitted: number; readonly heldOut: number };
  readonly moments: { readonly fitted: number; readonly heldOut: number };
  readonly weights: FittedWeights;
  /** From the refitted score to the chance. */
  readonly map: readonly IsotonicStep[];
  /** On held-out machines: the score read as percent, and the refitted one through the map. */
  readonly before: Reliability;
  readonly after: Reliability;
}

/** Adds the command to the program. */
export function addCalibrateCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const command = program
    .command('calibrate')
    .description('fit the parts of the soot-risk score, and the chance that it stands for, to what really came')
    .argument('[file...]', 'recordings of any known format')
    .requiredOption('--truth <file...>', 'CSV of events, or the truth of a simulation')
    .option('--outcomes <list>', 'kinds of event that the score warns of', 'derate,blockage')
    .addOption(wholeNumber('--horizon <h>', 'engine hours within which they count', { min: 1, max: 1000 }).default(50))
    .addOption(wholeNumber('--every <h>', 'hours between two looks at a machine', { min: 1, max: 1000 }).default(12))
    .addOption(
      wholeNumber('--seed <s>', 'the same seed parts the machines the same', { min: 0, max: 2 ** 31 }).default(1),
    )
    .option('--json', 'print one JSON document');
  addSourceOptions(command).action(async (files: string[], flags: CalibrateFlags) => {
    setExitCode(await calibrate(files, flags, console));
  });
}

async function calibrate(files: readonly string[], flags: CalibrateFlags, console: Console): Promise<number> {
  const labels = (await Promise.all(flags.truth.map(readTruth))).flat();
  const outcomes = flags.outcomes.split(',').map((name) => name.trim());
  const progress = createProgress(console, flags.quiet === true);
  const opened = await openSource(files, flags);
  try {
    const gathered = await gatherMoments(opened.source, labels, {
      outcomes,
      horizonH: flags.horizon,
      everyMs: flags.every * 3_600_000,
      onProgress: progress.report,
    });
    progress.finish(gathered.samples);
    const machines = [...gathered.machines].map(([machineId, machineClass]) => ({ machineId, machineClass }));
    if (machines.length < 2) throw tooLittle('one machine cannot be parted into fitted and held-out machines.');
    const split = splitMachines(machines, createRandom(seedFrom(flags.seed, 'split')), usualHeldOutRatio);
    const part = (ids: readonly string[]) => gathered.moments.filter(({ machineId }) => ids.includes(machineId));
    const parts = { fitted: part(split.tuning), heldOut: part(split.heldOut) };
    const sizes = { fitted: split.tuning.length, heldOut: split.heldOut.length };
    const document = { outcomes, horizonH: flags.horizon, machines: sizes, ...fit(parts) };
    console.out(flags.json === true ? `${JSON.stringify(document, null, 1)}\n` : calibrationText(document));
    return exitCodes.done;
  } finally {
    await opened.close();
  }
}

function fit(parts: { readonly fitted: readonly ScoredMoment[]; readonly heldOut: readonly ScoredMoment[] }) {
  const weights = fitWeights(parts.fitted);
  const held = parts.heldOut;
  if (weights === null || !held.some(({ hasCome }) => hasCome) || held.every(({ hasCome }) => hasCome)) {
    const came = [...parts.fitted, ...held].filter(({ hasCome }) => hasCome).length;
    throw tooLittle(
      `of ${parts.fitted.length + held.length} moments ${came} came before an event: too few on one side.`,
    );
  }
  const map = fitIsotonic(
    parts.fitted.map((one) => ({ score: refittedScore(one, weights), came: one.hasCome ? 1 : 0 })),
  );
  const told = (chance: (one: ScoredMoment) => number) =>
    reliabilityOf(held.map((one) => ({ chance: chance(one), hasCome: one.hasCome })));
  return {
    moments: { fitted: parts.fitted.length, heldOut: held.length },
    weights,
    map,
    before: told(({ score }) => score / 100),
    after: told((one) => chanceAt(map, refittedScore(one, weights))),
  };
}

function tooLittle(message: string): OperatingError {
  return new OperatingError(message, {
    code: 'bad-truth',
    remedy: 'Take longer recordings, more machines, a shorter --horizon, or other --outcomes.',
  });
}
