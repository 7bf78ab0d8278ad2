/** `warmbrick rules`: what is worth an alert, tried on recordings before it goes live. */

import { builtInRules } from '@warmbrick/alerting';
import type { Command } from 'commander';
import { stringify } from 'yaml';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { plainProfiles, readProfileBook } from '../profile-book.js';
import { createProgress } from '../progress.js';
import { readRuleFile } from '../rules/read-rule-file.js';
import { tryOnRecordings } from '../rules/try-on-recordings.js';
import { ruleListText, triedText } from '../text/rule-text.js';
import { builtInName, readThresholdSet } from '../thresholds/threshold-file.js';
import { addReadingOptions, type ReadingFlags, readOptionsOf } from './reading-options.js';

interface TryFlags extends ReadingFlags {
  readonly profile?: string;
  readonly with: string;
  readonly json?: boolean;
}

/** Adds the commands to the program. */
export function addRulesCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const rules = program.command('rules').description('what is worth an alert: list, explain and try rules');
  rules
    .command('list')
    .description('list the built-in rules')
    .option('--json', 'print them whole, as JSON')
    .action(({ json }: { json?: boolean }) => {
      console.out(json === true ? `${JSON.stringify(builtInRules, null, 1)}\n` : ruleListText(builtInRules));
      setExitCode(exitCodes.done);
    });
  rules
    .command('explain')
    .description('print a rule with everything that was left out, to read or to start from')
    .argument('<rule>', 'id of a built-in rule, or a file in YAML or JSON')
    .action(async (name: string) => {
      console.out(stringify(await readRuleFile(name)));
      setExitCode(exitCodes.done);
    });
  const attempt = rules
    .command('try')
    .description('say how often a rule would have opened on recordings')
    .argument('<rule>', 'id of a built-in rule, or a file in YAML or JSON')
    .argument('<file...>', 'recordings of any known format')
    .option('--profile <file>', 'JSON file with the profile of the machine, or of several by name')
    .option('--with <file>', 'JSON file of a threshold set', builtInName)
    .option('--json', 'print one JSON document');
  addReadingOptions(attempt).action(async (name: string, files: string[], flags: TryFlags) => {
    const rule = await readRuleFile(name);
    const progress = createProgress(console, flags.quiet === true);
    const tried = await tryOnRecordings(rule, {
      paths: files,
      profiles: flags.profile === undefined ? plainProfiles : await readProfileBook(flags.profile),
      thresholds: await readThresholdSet(flags.with),
      reading: readOptionsOf(flags),
      onProgress: progress.report,
    });
    progress.finish(tried.samples);
    const { openings, more } = tried;
    const count = openings.length + more;
    console.out(
      flags.json === true ? `${JSON.stringify({ rule: rule.id, count, ...tried }, null, 1)}\n` : triedText(rule, tried),
    );
    setExitCode(exitCodes.done);
  });
}
