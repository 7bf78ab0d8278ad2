import { runCommand } from '@warmbrick/workbench';

process.exitCode = await runCommand(process.argv.slice(2));
