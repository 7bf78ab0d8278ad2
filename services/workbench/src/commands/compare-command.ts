/** `warmbrick compare`: what another threshold set would change. */

import { writeFileSync } from 'node:fs';
import { toComparisonDocument } from '@warmbrick/contracts';
import { OperatingError } from '@warmbrick/runtime';
import { compareTrials, type MachineTrial } from '@warmbrick/tuning';
import type { Command } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { comparisonPage } from '../page/comparison-page.js';
import { createProgress } from '../progress.js';
import { comparisonText } from '../text/comparison-text.js';
import { readThresholdSet } from '../thresholds/threshold-file.js';
import { type Judging, judgeComparison } from '../trial/judge-comparison.js';
import { runTrials } from '../trial/run-trials.js';
import { judgingRules, parseJudgingRule } from '../truth/judging-rules.js';
import { readTruth } from '../truth/read-truth.js';
import { parseWeights } from '../tune/parse-search.js';
import { addSourceOptions, openSource, type SourceFlags } from './source-options.js';

interface CompareFlags extends SourceFlags {
  readonly json?: boolean;
  readonly long?: boolean;
  readonly alerts?: boolean;
  readonly truth?: readonly string[];
  readonly judge?: readonly string[];
  readonly weights?: string;
  readonly html?: string;
}

interface Compared {
  readonly before: string;
  readonly after: string;
  readonly files: readonly string[];
}

/** Adds the command to the program. */
export function addCompareCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const command = program
    .command('compare')
    .description('run two threshold sets over the same samples and say what appears, vanishes and moves')
    .argument('<before>', 'file of a threshold set, or "built-in"')
    .argument('<after>', 'file of the other set')
    .argument('[file...]', 'recordings of any known format; "-" reads standard input')
    .option('--long', 'every change, one a line')
    .option('--alerts', 'count the alerts that would have opened, too')
    .option('--truth <file...>', 'judge both by a CSV of events, or by the truth of a simulation')
    .option('--judge <rule...>', 'which findings answer which truth: label=finding,finding or label=finding@48h')
    .option('--weights <list>', 'what things cost: miss=10,falseAlarm=2,look=0.1,delayH=0')
    .option('--json', 'print one JSON document')
    .option('--html <file>', 'write a page with charts, too');
  addSourceOptions(command).action(async (before: string, after: string, files: string[], flags: CompareFlags) => {
    setExitCode(await compare({ before, after, files }, flags, console));
  });
}

async function compare({ before, after, files }: Compared, flags: CompareFlags, console: Console): Promise<number> {
  const sets = { before: await readThresholdSet(before), after: await readThresholdSet(after) };
  const judging = flags.truth === undefined ? null : await judgingOf(flags.truth, flags);
  const progress = createProgress(console, flags.quiet === true);
  const opened = await openSource(files, flags);
  try {
    const run = await runTrials(opened.source, [sets.before, sets.after], progress.report);
    progress.finish(run.samples);
    const comparisons = run.results.map(([a, b]) => compareTrials(a as MachineTrial, b as MachineTrial));
    const document = toComparisonDocument(sets, comparisons, {
      hasAlerts: flags.alerts === true,
      outcomes: judging === null ? null : judgeComparison(comparisons, judging),
    });
    if (flags.html !== undefined) writePage(flags.html, comparisonPage(document, comparisons));
    console.out(
      flags.json === true ? `${JSON.stringify(document, null, 1)}\n` : comparisonText(document, flags.long === true),
    );
    if (run.damage !== null) console.err(`warmbrick: ${run.damage.toUserMessage()}\n`);
    return document.isEqual && run.damage === null ? exitCodes.done : exitCodes.different;
  } finally {
    await opened.close();
  }
}

async function judgingOf(files: readonly string[], flags: CompareFlags): Promise<Judging> {
  const labels = (await Promise.all(files.map(readTruth))).flat();
  const rules = judgingRules((flags.judge ?? []).map(parseJudgingRule), labels);
  return { labels, rules, weighing: parseWeights(flags.weights) };
}

function writePage(path: string, page: string): void {
  try {
    writeFileSync(path, page);
  } catch (cause) {
    throw new OperatingError(`cannot be written: ${(cause as Error).message}.`, {
      code: 'output-unwritable',
      where: path,
      remedy: 'Check that the folder exists and that you may write to it.',
      cause,
    });
  }
}
