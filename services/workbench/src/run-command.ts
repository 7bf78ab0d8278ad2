/** The `warmbrick` command: nouns and verbs of the trade, progress on stderr, results on stdout. */

import { OperatingError } from '@warmbrick/runtime';
import { Command, CommanderError } from 'commander';
import { addAuditCommand } from './commands/audit-command.js';
import { addCalibrateCommand } from './commands/calibrate-command.js';
import { addChannelsCommand } from './commands/channels-command.js';
import { addCompareCommand } from './commands/compare-command.js';
import { addDecodeCommand } from './commands/decode-command.js';
import { addExplainCommand } from './commands/explain-command.js';
import { addFaultsCommand } from './commands/faults-command.js';
import { addHandoverCommand } from './commands/handover-command.js';
import { addPromoteCommand } from './commands/promote-command.js';
import { addRecordCommand } from './commands/record-command.js';
import { addReplayCommand } from './commands/replay-command.js';
import { addRulesCommand } from './commands/rules-command.js';
import { addSetsCommand } from './commands/sets-command.js';
import { addSimulateCommand } from './commands/simulate-command.js';
import { addTuneCommand } from './commands/tune-command.js';
import { type Console, consoleOf } from './console.js';
import { exitCodes } from './exit-codes.js';

/**
 * Runs the command line and returns its exit code; nothing is thrown.
 *
 * Errors: a user's mistake is one readable message on stderr; a bug is one line with its name.
 */
export async function runCommand(args: readonly string[], console: Console = consoleOf(process)): Promise<number> {
  const result = { exitCode: exitCodes.done as number };
  const program = createProgram(console, (code) => {
    result.exitCode = code;
  });
  try {
    await program.parseAsync([...args], { from: 'user' });
    return result.exitCode;
  } catch (error) {
    return exitCodeOf(error, console);
  }
}

function createProgram(console: Console, setExitCode: (code: number) => void): Command {
  const program = new Command('warmbrick')
    .description(
      'Exhaust aftertreatment of diesel machines: replay and decode what was recorded, audit what is stored.',
    )
    .exitOverride()
    .configureOutput({ writeOut: console.out, writeErr: console.err })
    .showHelpAfterError('(warmbrick --help shows the commands)');
  addReplayCommand(program, console, setExitCode);
  addCompareCommand(program, console, setExitCode);
  addCalibrateCommand(program, console, setExitCode);
  addTuneCommand(program, console, setExitCode);
  addPromoteCommand(program, console, setExitCode);
  addSetsCommand(program, console, setExitCode);
  addRecordCommand(program, console, setExitCode);
  addDecodeCommand(program, console, setExitCode);
  addExplainCommand(program, console, setExitCode);
  addFaultsCommand(program, console, setExitCode);
  addHandoverCommand(program, console, setExitCode);
  addAuditCommand(program, console, setExitCode);
  addRulesCommand(program, console, setExitCode);
  addSimulateCommand(program, console, setExitCode);
  addChannelsCommand(program, console);
  return program;
}

function exitCodeOf(error: unknown, console: Console): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? exitCodes.done : exitCodes.usage;
  if (error instanceof OperatingError) {
    console.err(`warmbrick: ${error.toUserMessage()}\n`);
    return error.isRetriable ? exitCodes.failed : exitCodes.usage;
  }
  if ((error as NodeJS.ErrnoException).code === 'EPIPE') return exitCodes.done;
  console.err(`warmbrick: unexpected failure: ${(error as Error).message}\n`);
  return exitCodes.failed;
}
