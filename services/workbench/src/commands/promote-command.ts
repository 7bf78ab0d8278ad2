/** `warmbrick promote`: puts a threshold set in force on the running service, or takes it back. */

import { readFile } from 'node:fs/promises';
import type { PromotionDocument, ThresholdSetDocument } from '@warmbrick/contracts';
import { OperatingError } from '@warmbrick/runtime';
import type { PromotionScope } from '@warmbrick/tuning';
import { type Command, InvalidArgumentError, Option } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { promotionWords } from '../text/promotion-words.js';
import { callService } from '../thresholds/service-call.js';
import { readThresholdSet } from '../thresholds/threshold-file.js';
import { instant } from './reading-options.js';

interface PromoteFlags {
  readonly reason: string;
  readonly for: PromotionScope;
  readonly from?: number;
  readonly recompute?: boolean;
  readonly trial?: string;
  readonly secondEyes?: boolean;
  readonly approve?: boolean;
  readonly rollback?: boolean;
  readonly url: string;
}

/** Adds the command to the program. */
export function addPromoteCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  program
    .command('promote')
    .description('keep a threshold set under its version and put it in force; --rollback takes a promotion back')
    .argument('<set>', 'file of a set, or the version of one that is kept; with --rollback the number of a promotion')
    .requiredOption('--reason <text>', 'why, for whoever reads it later')
    .addOption(
      new Option('--for <scope>', 'all, fleet=NAME, class=NAME or machine=ID')
        .argParser(scopeOf)
        .default({ kind: 'all', name: null } satisfies PromotionScope, 'all'),
    )
    .addOption(
      new Option('--from <time>', 'machine time from which on it judges (default: in two minutes)').argParser(instant),
    )
    .option('--recompute', 'judge what was before anew, too; needed for a time that has passed')
    .option('--trial <file>', 'the JSON document of the comparison that speaks for it; kept with the set')
    .option('--second-eyes', 'only keep it: somebody else has to approve it before it is promoted')
    .option('--approve', 'approve the version, as somebody else than its author, then promote it')
    .option('--rollback', 'take the promotion back: what held before holds again')
    .option('--url <url>', 'address of the running service', 'http://127.0.0.1:8080')
    .action(async (set: string, flags: PromoteFlags) => {
      console.out(`${await act(set, flags)}\n`);
      setExitCode(exitCodes.done);
    });
}

async function act(set: string, flags: PromoteFlags): Promise<string> {
  const { url, reason, recompute = false } = flags;
  if (flags.rollback === true) {
    const path = `/set-promotions/${encodeURIComponent(set)}/rollback`;
    const done = await callService({ url, method: 'POST', path, body: { reason, recompute } });
    return promotionWords(done as PromotionDocument);
  }
  const version = set.endsWith('.json') ? await keep(set, flags) : set;
  if (flags.secondEyes === true) return `${version} is kept and waits for somebody else to approve it.`;
  if (flags.approve === true) {
    await callService({ url, method: 'POST', path: `/threshold-sets/${encodeURIComponent(version)}/approval` });
  }
  const from = flags.from === undefined ? {} : { from: new Date(flags.from).toISOString() };
  const body = { version, scope: flags.for, recompute, reason, ...from };
  const done = await callService({ url, method: 'POST', path: '/set-promotions', body });
  return promotionWords(done as PromotionDocument);
}

/** Keeps the set of a file under its version, unless the very same is there already. */
async function keep(path: string, { url, reason, trial, secondEyes }: PromoteFlags): Promise<string> {
  const { version, values } = await readThresholdSet(path);
  const { items } = (await callService({ url, method: 'GET', path: '/threshold-sets' })) as {
    items: ThresholdSetDocument[];
  };
  const known = items.find((one) => one.version === version);
  const isSame = known !== undefined && JSON.stringify(known.values) === JSON.stringify(values);
  if (isSame) return version;
  const trialId = trial === undefined ? null : await keepTrial(trial, { url, title: `${version}: ${reason}` });
  const body = { version, values, reason, trialId, needsApproval: secondEyes === true };
  await callService({ url, method: 'POST', path: '/threshold-sets', body });
  return version;
}

async function keepTrial(
  path: string,
  { url, title }: { readonly url: string; readonly title: string },
): Promise<string> {
  let document: unknown;
  try {
    document = JSON.parse(await readFile(path, 'utf8'));
  } catch (cause) {
    throw new OperatingError(`the trial cannot be read: ${(cause as Error).message}.`, {
      code: 'bad-threshold-set',
      where: path,
      remedy: 'Make it with: warmbrick compare ... --json > trial.json',
      cause,
    });
  }
  const body = { title: title.slice(0, 120), document };
  const kept = (await callService({ url, method: 'POST', path: '/trials', body })) as { trialId: string };
  return kept.trialId;
}

function scopeOf(text: string): PromotionScope {
  if (text === 'all') return { kind: 'all', name: null };
  const parts = /^(fleet|class|machine)=(.+)$/.exec(text);
  if (parts === null) throw new InvalidArgumentError('Expected all, fleet=NAME, class=NAME or machine=ID.');
  return { kind: parts[1] as PromotionScope['kind'], name: parts[2] as string };
}
