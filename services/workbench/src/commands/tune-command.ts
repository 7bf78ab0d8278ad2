/** `warmbrick tune`: searches for thresholds that do better by what really happened. */

import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { performance } from 'node:perf_hooks';
import { OperatingError } from '@warmbrick/runtime';
import { createRandom, seedFrom } from '@warmbrick/simulator';
import { type FigureName, figureNames, splitMachines, usualHeldOutRatio, usualWithinMs } from '@warmbrick/tuning';
import { type Command, Option } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { createProgress } from '../progress.js';
import { durationText } from '../text/durations.js';
import { tuningText } from '../text/tuning-text.js';
import { builtInName, readThresholdSet } from '../thresholds/threshold-file.js';
import { judgingRules, parseJudgingRule } from '../truth/judging-rules.js';
import { openJudgePool } from '../tune/judge-pool.js';
import { type LaidUnits, layUnits } from '../tune/lay-units.js';
import { parseAxes, parseWeights } from '../tune/parse-search.js';
import { runTuning, type SearchMethod, searchMethods, type TuningPlan } from '../tune/run-tuning.js';
import type { TuningDocument } from '../tune/tuning-document.js';
import { gatherTruth } from '../tune/tuning-truth.js';
import type { TunedUnit } from '../tune/unit-task.js';
import { wholeNumber } from './number-options.js';
import { instant } from './reading-options.js';
import { addSourceOptions, openSource, type SourceFlags } from './source-options.js';

interface TuneFlags extends SourceFlags {
  readonly truth: readonly string[];
  readonly judge?: readonly string[];
  readonly thresholds: string;
  readonly method: SearchMethod;
  readonly trials: number;
  readonly objective: string;
  readonly weights?: string;
  readonly base: string;
  readonly holdOut: string;
  readonly holdOutFrom?: number;
  readonly within: number;
  readonly seed: number;
  readonly jobs: number;
  readonly journal?: string;
  readonly out?: string;
  readonly json?: boolean;
}

/** Source: engineering judgement. */
const mostTrials = 100_000;

/** Adds the command to the program. */
export function addTuneCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const command = program
    .command('tune')
    .description('search for thresholds that do better by what really happened, and prove it on other machines')
    .argument('[file...]', 'recordings of any known format')
    .requiredOption('--truth <source...>', 'CSV of events, truth of a simulation, or found:derate, found:regeneration')
    .requiredOption('--thresholds <list>', 'what to search, such as idleLimitS,cooldownWantedS=60..600')
    .option('--judge <rule...>', 'which findings answer which truth: label=finding,finding or label=finding@48h')
    .addOption(new Option('--method <method>', 'how to search').choices([...searchMethods]).default('evolve'))
    .addOption(wholeNumber('--trials <n>', 'sets to judge at most', { min: 2, max: mostTrials }).default(200))
    .option(
      '--objective <list>',
      `figures that count, the cost first: ${figureNames.join(', ')}`,
      'costPerMachineMonth',
    )
    .option('--weights <list>', 'what things cost: miss=10,falseAlarm=2,look=0.1,delayH=0')
    .option('--base <file>', 'the set to search from', builtInName)
    .option('--hold-out <ratio>', 'share of the machines that the result is judged by', String(usualHeldOutRatio))
    .addOption(
      new Option('--hold-out-from <time>', 'judge by the time from here on instead, on all machines').argParser(
        instant,
      ),
    )
    .addOption(
      wholeNumber('--within <s>', 'slack between finding and label', { min: 0, max: 86_400 }).default(
        usualWithinMs / 1000,
      ),
    )
    .addOption(wholeNumber('--seed <s>', 'the same seed gives the same', { min: 0, max: 2 ** 31 }).default(1))
    .addOption(wholeNumber('--jobs <n>', 'threads', { min: 1, max: 256 }).default(availableParallelism()))
    .option('--journal <file>', 'keep what was judged here; the same command goes on from it')
    .option('--out <file>', 'write the set that was found')
    .option('--json', 'print one JSON document');
  addSourceOptions(command).action(async (files: string[], flags: TuneFlags) => {
    setExitCode(await tune(files, flags, console));
  });
}

/** What the flags say, checked before anything long begins. */
async function saidBy(flags: TuneFlags) {
  return {
    base: await readThresholdSet(flags.base),
    axes: parseAxes(flags.thresholds),
    objectives: parseObjectives(flags.objective),
    weighing: parseWeights(flags.weights),
    rules: (flags.judge ?? []).map(parseJudgingRule),
  };
}
type Said = Awaited<ReturnType<typeof saidBy>>;

async function tune(files: readonly string[], flags: TuneFlags, console: Console): Promise<number> {
  const said = await saidBy(flags);
  const folder = mkdtempSync(join(tmpdir(), 'warmbrick-tune-'));
  const pool = openJudgePool(flags.jobs);
  let isCancelled = false;
  const stop = () => {
    isCancelled = true;
    console.err('\nstopping after this round; again to end at once\n');
  };
  process.once('SIGINT', stop);
  try {
    const laid = await lay(files, flags, { folder, console });
    const plan = await planOf(flags, said, laid);
    const document = await runTuning(plan, {
      pool,
      onProgress: progressOf(console, flags.quiet === true),
      isCancelled: () => isCancelled,
    });
    if (flags.out !== undefined) writeSet(flags.out, plan, document);
    console.out(flags.json === true ? `${JSON.stringify(document, null, 1)}\n` : tuningText(document));
    if (laid.damage !== null) console.err(`warmbrick: ${laid.damage.toUserMessage()}\n`);
    if (document.isCancelled) return exitCodes.failed;
    return laid.damage === null ? exitCodes.done : exitCodes.damaged;
  } finally {
    process.removeListener('SIGINT', stop);
    await pool.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

async function lay(
  files: readonly string[],
  flags: TuneFlags,
  { folder, console }: { readonly folder: string; readonly console: Console },
): Promise<LaidUnits> {
  const progress = createProgress(console, flags.quiet === true);
  const opened = await openSource(files, flags);
  try {
    const options = { folder, partAtMs: flags.holdOutFrom ?? null, onProgress: progress.report };
    const laid = await layUnits(opened.source, options);
    progress.finish(laid.samples);
    return laid;
  } finally {
    await opened.close();
  }
}

async function planOf(flags: TuneFlags, said: Said, laid: LaidUnits): Promise<TuningPlan> {
  const labels = await gatherTruth(flags.truth, laid);
  const rules = judgingRules(said.rules, labels);
  const withinMs = flags.within * 1000;
  const units = laid.units.map((unit): TunedUnit => {
    const own = labels.filter(
      ({ machineId, startedMs, endedMs }) =>
        machineId === unit.machineId && startedMs <= unit.toMs && (endedMs ?? startedMs) >= unit.fromMs,
    );
    return { ...unit, labels: own, rules, withinMs };
  });
  return {
    base: said.base,
    axes: said.axes,
    method: flags.method,
    trials: flags.trials,
    seed: flags.seed,
    objectives: said.objectives,
    weighing: said.weighing,
    partAtMs: flags.holdOutFrom ?? null,
    fingerprint: laid.fingerprint,
    ...(flags.journal === undefined ? {} : { journalPath: flags.journal }),
    ...parted(units, flags),
  };
}

/** By machine, or by time; a unit never lies on both sides. */
function parted(units: readonly TunedUnit[], flags: TuneFlags): Pick<TuningPlan, 'tuning' | 'heldOut'> {
  const { holdOutFrom } = flags;
  const machines = new Map(units.map(({ machineId, profile }) => [machineId, profile.machineClass]));
  if (holdOutFrom === undefined && machines.size < 2) {
    throw notParted(
      'one machine cannot be parted into fitted and held-out machines.',
      'Part the time with --hold-out-from.',
    );
  }
  const split = splitMachines(
    [...machines].map(([machineId, machineClass]) => ({ machineId, machineClass })),
    createRandom(seedFrom(flags.seed, 'split')),
    Math.min(0.9, Math.max(0.05, Number(flags.holdOut) || usualHeldOutRatio)),
  );
  const isHeldOut = (unit: TunedUnit) =>
    holdOutFrom === undefined ? split.heldOut.includes(unit.machineId) : unit.fromMs >= holdOutFrom;
  const tuning = units.filter((unit) => !isHeldOut(unit));
  const heldOut = units.filter(isHeldOut);
  if (tuning.length > 0 && heldOut.length > 0) return { tuning, heldOut };
  throw notParted('one of the two parts has no samples.', 'Name a time within the recordings with --hold-out-from.');
}

function notParted(message: string, remedy: string): OperatingError {
  return new OperatingError(message, { code: 'bad-search', remedy });
}

function parseObjectives(text: string): FigureName[] {
  const names = text.split(',').map((name) => name.trim());
  const wrong = names.find((name) => !(figureNames as readonly string[]).includes(name));
  if (wrong === undefined) return names as FigureName[];
  throw new OperatingError(`there is no figure "${wrong}".`, {
    code: 'bad-search',
    where: '--objective',
    remedy: `There are: ${figureNames.join(', ')}.`,
  });
}

function progressOf(console: Console, isQuiet: boolean): (judged: number, wanted: number) => void {
  const startedAt = performance.now();
  return (judged, wanted) => {
    if (isQuiet) return;
    const leftS = ((performance.now() - startedAt) / 1000 / judged) * Math.max(0, wanted - judged);
    const text = `${judged} of ${wanted} sets judged, about ${durationText(leftS)} left`;
    if (console.isWatched) console.err(`\r${text}    `);
    else console.err(`${text}\n`);
  };
}

/** The version hangs on the values, so that the same set found twice has the same name. */
function writeSet(path: string, plan: TuningPlan, document: TuningDocument): void {
  const values = { ...plan.base.values, ...document.best.tuning.values };
  const digest = createHash('sha256').update(JSON.stringify(values)).digest('hex').slice(0, 8);
  try {
    writeFileSync(path, `${JSON.stringify({ version: `tuned-${digest}`, values }, null, 1)}\n`);
  } catch (cause) {
    throw new OperatingError(`cannot be written: ${(cause as Error).message}.`, {
      code: 'output-unwritable',
      where: path,
      remedy: 'Check that the folder exists and that you may write to it.',
      cause,
    });
  }
}
