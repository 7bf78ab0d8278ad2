/** `warmbrick channels`: the catalogue that columns are named by, and the fields of a profile. */

import { channelNames, channels, defaultProfile, machineProfileSchema } from '@warmbrick/signals';
import type { Command } from 'commander';
import type { Console } from '../console.js';

/** Adds the command to the program. */
export function addChannelsCommand(program: Command, console: Console): void {
  program
    .command('channels')
    .description('list the channels that recordings may have, or the fields of a machine profile')
    .option('--profile', 'the fields of a profile, with default, unit, bounds and source')
    .option('--json', 'print JSON')
    .action((flags: { profile?: boolean; json?: boolean }) => {
      const rows = flags.profile === true ? profileRows() : channelRows();
      console.out(flags.json === true ? `${JSON.stringify(rows, null, 1)}\n` : tableText(rows));
    });
}

type Row = Record<string, string | number | readonly number[]>;

function channelRows(): Row[] {
  return channelNames.map((name) => {
    const { unit, min, max, resolution, spns, description } = channels[name];
    return { name, unit, min, max, resolution, spns, description };
  });
}

function profileRows(): Row[] {
  return Object.entries(machineProfileSchema.shape).map(([name, schema]) => {
    const meta = schema.meta() ?? {};
    const value = defaultProfile[name as keyof typeof defaultProfile];
    return {
      name,
      default: value === undefined ? '' : JSON.stringify(value),
      unit: String(meta.unit ?? ''),
      source: String(meta.source ?? ''),
    };
  });
}

function tableText(rows: readonly Row[]): string {
  const heads = Object.keys(rows[0] ?? {});
  const cells = [heads, ...rows.map((row) => heads.map((head) => cellText(row[head])))];
  const widths = heads.map((_, k) => Math.max(...cells.map((row) => (row[k] as string).length)));
  return `${cells
    .map((row) =>
      row
        .map((cell, k) => cell.padEnd(widths[k] as number))
        .join('  ')
        .trimEnd(),
    )
    .join('\n')}\n`;
}

function cellText(value: Row[string] | undefined): string {
  return Array.isArray(value) ? value.join(' ') : String(value ?? '');
}
