/** `warmbrick simulate`: invented machines into files or to a running service. */

import type { WriteFormat } from '@warmbrick/recordings';
import { type DutyCycleName, dutyCycles, type Habit, habits } from '@warmbrick/simulator';
import { type Command, InvalidArgumentError, Option } from 'commander';
import type { Console } from '../console.js';
import { exitCodes } from '../exit-codes.js';
import { createProgress } from '../progress.js';
import { type SendOptions, sendSimulation } from '../simulate/send-simulation.js';
import { liveStartMs, simulationPlan } from '../simulate/simulation-plan.js';
import { writeSimulation } from '../simulate/write-simulation.js';
import { instant } from './reading-options.js';

interface SimulateFlags {
  readonly machines: number;
  readonly days: number;
  readonly seed: number;
  readonly start?: number;
  readonly habit?: Habit;
  readonly cycle?: DutyCycleName;
  readonly mishaps: boolean;
  readonly to: WriteFormat;
  readonly out: string;
  readonly faults?: string;
  readonly truth?: string;
  readonly profiles?: string;
  readonly url?: URL;
  readonly speed?: number;
  readonly quiet?: boolean;
}

/** Source: design decision; more machines than this are a matter of several runs with seeds of their own. */
const mostMachines = 100_000;
const mostDays = 366;

const asleep =
  'warmbrick: no machine was at work in that time, so none sent anything; their shifts are by the clock of Europe/Oslo\n';

/** Adds the command to the program. */
export function addSimulateCommand(program: Command, console: Console, setExitCode: (code: number) => void): void {
  program
    .command('simulate')
    .description('make samples, fault codes and truth of invented machines, into files or to a running service')
    .addOption(number('--machines <n>', 'how many', { min: 1, max: mostMachines, isWhole: true }).default(8))
    .addOption(number('--days <d>', 'how long, in days', { min: 0.01, max: mostDays }).default(1))
    .addOption(number('--seed <s>', 'the same seed gives the same', { min: 0, max: 2 ** 31, isWhole: true }).default(1))
    .addOption(new Option('--start <time>', 'RFC 3339 time of the first second').argParser(instant))
    .addOption(new Option('--habit <habit>', 'habit of every operator (default: drawn)').choices([...habits]))
    .addOption(new Option('--cycle <cycle>', 'a prescribed duty cycle instead of shifts').choices([...dutyCycles]))
    .option('--no-mishaps', 'sound machines and sensors only')
    .addOption(new Option('--to <format>', 'format of the files').choices(['csv', 'ndjson', 'parquet']).default('csv'))
    .option('--out <path>', 'file of samples; "-" is standard output', '-')
    .option('--faults <path>', 'file of fault codes')
    .option('--truth <path>', 'file of what really happened, a line of JSON an event')
    .option('--profiles <path>', 'file of the machines for replay --profile')
    .addOption(
      new Option('--url <url>', 'POST /v1/telemetry of a running service, instead of files')
        .argParser(httpUrl)
        .conflicts(['faults', 'truth', 'profiles']),
    )
    .addOption(number('--speed <x>', 'simulated seconds in a real one, with --url', { min: 0.01, max: 1e6 }))
    .option('--quiet', 'no progress on stderr')
    .action(async (flags: SimulateFlags) => {
      setExitCode(await (flags.url === undefined ? toFiles(flags, console) : toService(flags, flags.url, console)));
    });
}

async function toFiles(flags: SimulateFlags, console: Console): Promise<number> {
  const progress = createProgress(console, flags.quiet === true);
  const samples = await writeSimulation(simulationPlan(flags, flags.start), flags, progress.report);
  progress.finish(samples);
  if (samples === 0) console.err(asleep);
  return exitCodes.done;
}

/** Samples of the future are put aside by a service, so without a start the simulated time ends now. */
async function toService(flags: SimulateFlags, url: URL, console: Console): Promise<number> {
  const progress = createProgress(console, flags.quiet === true);
  const isRealTime = flags.speed !== undefined && flags.speed <= 1;
  const startMs = flags.start ?? liveStartMs(Date.now(), isRealTime ? 0 : flags.days);
  const options: SendOptions = { url, speed: flags.speed ?? null, onSamples: progress.report };
  const sent = await sendSimulation(simulationPlan(flags, startMs), options);
  progress.finish(sent.samples);
  if (sent.samples + sent.rejected === 0) console.err(asleep);
  if (sent.rejected === 0) return exitCodes.done;
  console.err(`warmbrick: the service did not take ${sent.rejected} messages; the first: ${sent.firstReject}\n`);
  return exitCodes.damaged;
}

interface Bounds {
  readonly min: number;
  readonly max: number;
  readonly isWhole?: boolean;
}

function number(flags: string, description: string, { min, max, isWhole = false }: Bounds): Option {
  return new Option(flags, description).argParser((text) => {
    const value = Number(text);
    const isGood = text.trim() !== '' && value >= min && value <= max && (!isWhole || Number.isInteger(value));
    if (!isGood) throw new InvalidArgumentError(`Expected a ${isWhole ? 'whole ' : ''}number from ${min} to ${max}.`);
    return value;
  });
}

function httpUrl(text: string): URL {
  const url = URL.canParse(text) ? new URL(text) : null;
  const isHttp = url !== null && (url.protocol === 'http:' || url.protocol === 'https:');
  if (!isHttp || !url.pathname.endsWith('/telemetry')) {
    throw new InvalidArgumentError('Expected an address such as http://localhost:8080/v1/telemetry.');
  }
  return url;
}
