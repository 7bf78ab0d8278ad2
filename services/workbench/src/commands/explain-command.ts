/** `warmbrick explain`: why a machine's score is what it is, and what would lower it. */

import { builtInThresholds } from '@warmbrick/analysis';
import { type Comparison, comparisonSchema, type MachineReport, machineDetailSchema } from '@warmbrick/contracts';
import { OperatingError } from '@warmbrick/runtime';
import type { Command } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { plainProfiles, readProfileBook } from '../profile-book.js';
import { replayRecordings } from '../replay-recordings.js';
import { explanationText } from '../text/explanation-text.js';
import { addReadingOptions, type ReadingFlags, readOptionsOf } from './reading-options.js';

interface ExplainFlags extends ReadingFlags {
  readonly profile?: string;
  readonly url: string;
}

/** The part of a report that is explained. */
export type Explained = Pick<
  MachineReport,
  'machineId' | 'load' | 'score' | 'residency' | 'observed' | 'def' | 'noxBins' | 'suspectChannels'
> & {
  /** Beside machines of its class; only a service knows them. */
  readonly comparison?: Comparison | undefined;
};

/** How long the service may take to answer. */
const answerWithinMs = 10_000;

/** Adds the command to the program. */
export function addExplainCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  const command = program
    .command('explain')
    .description('say why a machine’s soot risk is what it is and what would lower it')
    .argument('<machine>', 'id of the machine')
    .argument('[file...]', 'recordings to take it from; without any the running service is asked')
    .option('--profile <file>', 'JSON file with the profile of the machine, or of several by name')
    .option('--url <url>', 'address of the running service', 'http://127.0.0.1:8080');
  addReadingOptions(command).action(async (machineId: string, files: string[], flags: ExplainFlags) => {
    const explained =
      files.length > 0 ? await fromFiles(machineId, files, flags) : await fromService(machineId, flags.url);
    console.out(explanationText(explained));
    setExitCode(exitCodes.done);
  });
}

async function fromFiles(machineId: string, files: readonly string[], flags: ExplainFlags): Promise<Explained> {
  const { document } = await replayRecordings({
    paths: files,
    profiles: flags.profile === undefined ? plainProfiles : await readProfileBook(flags.profile),
    thresholds: builtInThresholds,
    reading: readOptionsOf(flags),
  });
  const found = document.machines.find((machine) => machine.machineId === machineId);
  if (found !== undefined) return found;
  const known = document.machines.map((machine) => machine.machineId).slice(0, 12);
  throw new OperatingError(`there is no machine "${machineId}"; there are: ${known.join(', ')}.`, {
    code: 'machine-absent',
    where: files.join(', '),
    remedy: 'Name one of these.',
  });
}

async function fromService(machineId: string, url: string): Promise<Explained> {
  const address = `${url.replace(/\/+$/, '')}/v1/machines/${encodeURIComponent(machineId)}`;
  const response = await ask(address);
  if (response.status === 404) {
    throw new OperatingError(`the service knows no machine "${machineId}".`, {
      code: 'machine-absent',
      where: url,
      remedy: 'See its fleet page for the machines, or name recordings after the machine.',
    });
  }
  const parsed = machineDetailSchema.safeParse(response.ok ? await response.json() : null);
  if (parsed.success) return { ...parsed.data, comparison: await comparisonAt(`${address}/comparison`) };
  throw new OperatingError(`the answer (status ${response.status}) is not one of ours.`, {
    code: 'service-unreachable',
    where: address,
    remedy: response.status === 401 ? 'Put an API key into WARMBRICK_API_KEY.' : 'Check --url.',
  });
}

/** The comparison is an extra: an older service has none. */
async function comparisonAt(address: string): Promise<Comparison | undefined> {
  const response = await ask(address);
  return comparisonSchema.safeParse(response.ok ? await response.json() : null).data;
}

async function ask(address: string): Promise<Response> {
  try {
    const key = process.env.WARMBRICK_API_KEY;
    const headers = key === undefined || key === '' ? {} : { authorization: `Bearer ${key}` };
    return await fetch(address, { headers, signal: AbortSignal.timeout(answerWithinMs) });
  } catch (cause) {
    throw new OperatingError('the service does not answer.', {
      code: 'service-unreachable',
      where: address,
      remedy: 'Start it (npm start), name its address with --url, or name recordings after the machine.',
      cause,
    });
  }
}
