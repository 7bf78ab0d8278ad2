/** `warmbrick sets`: threshold sets, what is promoted, and which thresholds there are. */

import type { PromotionDocument, ThresholdSetDocument } from '@warmbrick/contracts';
import { thresholdNotes } from '@warmbrick/tuning';
import type { Command } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { promotionWords } from '../text/promotion-words.js';
import { textTable } from '../text/text-table.js';
import { callService } from '../thresholds/service-call.js';

interface SetsFlags {
  readonly known?: boolean;
  readonly url: string;
  readonly json?: boolean;
}

/** Adds the command to the program. */
export function addSetsCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  program
    .command('sets')
    .description('list threshold sets and promotions of the running service')
    .option('--known', 'list all thresholds with default, bounds, unit and source instead; asks no service')
    .option('--url <url>', 'address of the running service', 'http://127.0.0.1:8080')
    .option('--json', 'print one JSON document')
    .action(async (flags: SetsFlags) => {
      console.out(flags.known === true ? knownText(flags.json === true) : await setsText(flags));
      setExitCode(exitCodes.done);
    });
}

function knownText(isJson: boolean): string {
  if (isJson) return `${JSON.stringify(thresholdNotes, null, 1)}\n`;
  const rows = thresholdNotes.map(({ name, usual, min, max, unit, source }) => [
    `${name.padEnd(28)} ${source}`,
    ...[usual, min, max].map(String),
    unit,
  ]);
  return `${textTable([['threshold and source', 'default', 'from', 'to', 'unit'], ...rows])}\n`;
}

async function setsText({ url, json }: SetsFlags): Promise<string> {
  const sets = (await callService({ url, method: 'GET', path: '/threshold-sets' })) as {
    items: ThresholdSetDocument[];
  };
  const promotions = (await callService({ url, method: 'GET', path: '/set-promotions' })) as {
    items: PromotionDocument[];
  };
  if (json === true) return `${JSON.stringify({ sets: sets.items, promotions: promotions.items }, null, 1)}\n`;
  const rows = sets.items.map((set) => [
    set.version,
    set.createdAt?.slice(0, 10) ?? '-',
    set.author,
    set.needsApproval ? (set.approvedBy ?? 'waits') : '-',
    set.reason,
  ]);
  const table = textTable([['set', 'made', 'by', 'approved', 'reason'], ...rows]);
  const list = promotions.items.map((one) => `  ${promotionWords(one)}`).join('\n');
  return `${table}\n\n${list === '' ? 'Nothing is promoted: the built-in set judges everywhere.' : `Promotions, the last one last:\n${list}`}\n`;
}
