/** `warmbrick audit`: runs the archive again and says whether what is stored is what it gives. */

import { builtInThresholds } from '@warmbrick/analysis';
import type { Store } from '@warmbrick/store';
import { type Command, Option } from 'commander';
import { auditMachine, type MachineAudit } from '../audit/audit-machine.js';
import { openAuditedStore } from '../audit/open-audited-store.js';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { createProgress, type Progress } from '../progress.js';
import { auditText } from '../text/audit-text.js';
import { instant } from './reading-options.js';

interface AuditFlags {
  readonly machine?: string;
  readonly from?: number;
  readonly to?: number;
  readonly dataDir?: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** Machines listed at a time. */
const pageItems = 500;

/** Adds the command to the program. */
export function addAuditCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  program
    .command('audit')
    .description('run the archive again and compare findings, times and scores with what is stored')
    .option('--machine <id>', 'only this machine')
    .addOption(new Option('--from <time>', 'compare what starts at this RFC 3339 time or later').argParser(instant))
    .addOption(new Option('--to <time>', 'compare what starts before this time').argParser(instant))
    .option('--data-dir <folder>', 'folder of the embedded database (default: DATABASE_URL, else the usual folder)')
    .option('--json', 'print one JSON document')
    .option('--quiet', 'no progress on stderr')
    .action(async (flags: AuditFlags) => {
      setExitCode(await audit(flags, console));
    });
}

async function audit(flags: AuditFlags, console: Console): Promise<number> {
  const progress = createProgress(console, flags.quiet === true);
  const opened = await openAuditedStore(flags.dataDir, process.env);
  try {
    const machines = await auditAll(opened.store, flags, progress);
    const isEqual = machines.every((machine) => machine.isEqual);
    console.out(flags.json === true ? `${JSON.stringify({ isEqual, machines }, null, 1)}\n` : auditText(machines));
    return isEqual ? exitCodes.done : exitCodes.different;
  } finally {
    await opened.close();
  }
}

async function auditAll(store: Store, flags: AuditFlags, progress: Progress): Promise<MachineAudit[]> {
  const span = { fromMs: flags.from ?? 0, toMs: flags.to ?? Number.MAX_SAFE_INTEGER };
  const audits: MachineAudit[] = [];
  let before = 0;
  for (const machineId of flags.machine === undefined ? await machineIds(store) : [flags.machine]) {
    const onProgress = (samples: number) => progress.report(before + samples);
    const done = await auditMachine(machineId, { store, thresholds: builtInThresholds, span, onProgress });
    before += done.samples;
    audits.push(done);
  }
  progress.finish(before);
  return audits;
}

async function machineIds(store: Store): Promise<string[]> {
  const ids: string[] = [];
  for (let cursor: string | null | undefined; cursor !== null; ) {
    const page: Awaited<ReturnType<Store['listMachines']>> = await store.listMachines({
      sort: 'name',
      limit: pageItems,
      cursor,
    });
    ids.push(...page.items.map((machine) => machine.machineId));
    cursor = page.nextCursor;
  }
  return ids;
}
