/**
 * `npm run bench [-- replay live api fleet] [--json] [--machines N] [--days D] [--write]`: measures against baselines in the
 * same run. `fleet` takes a quarter of an hour and has to be named.
 * `--write` puts the figures into tests/bench/report.md, each bench into a section of its own.
 */

import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, release, type } from 'node:os';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { type ApiFigures, measureApi } from './api-bench.js';
import { apiText } from './api-report.js';
import { benchFile } from './bench-file.js';
import { type FleetFigures, type FleetWork, fleetWorks, measureFleet } from './fleet-bench.js';
import { fleetFile } from './fleet-file.js';
import { fleetText } from './fleet-report.js';
import { type LiveFigures, measureLive } from './live-bench.js';
import { liveText } from './live-report.js';
import { measureReplay, type ReplayFigures } from './replay-bench.js';
import { measureSlider, type SliderFigures } from './slider-bench.js';
import { sliderText } from './slider-report.js';

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    json: { type: 'boolean', default: false },
    write: { type: 'boolean', default: false },
    machines: { type: 'string' },
    days: { type: 'string', default: '30' },
    'in-process': { type: 'boolean', default: false },
    work: { type: 'string' },
    threads: { type: 'string', default: '1' },
  },
});

const usual = ['replay', 'live', 'api'] as const;
const benches = [...usual, 'fleet', 'slider'] as const;
const wanted: readonly string[] = positionals.length === 0 ? usual : positionals;
const unknown = wanted.filter((name) => !(benches as readonly string[]).includes(name));
if (unknown.length > 0) {
  process.stderr.write(`No bench is called ${unknown.join(', ')}; there is: ${benches.join(', ')}.\n`);
  process.exit(2);
}
const machines = Number(values.machines ?? (wanted.includes('fleet') ? 100 : 4));
const days = Number(values.days);

if (values['in-process']) {
  process.stdout.write(`${JSON.stringify(await measureHere())}\n`);
} else {
  const machine = machineFacts();
  const figures: {
    replay?: ReplayFigures;
    live?: LiveFigures;
    api?: ApiFigures;
    fleet?: FleetFigures[];
    slider?: SliderFigures;
  } = {};
  if (wanted.includes('replay')) {
    await benchFile(machines, days);
    figures.replay = measurePinned<ReplayFigures>('replay', [], 1);
    tellSection('Replay: Parquet to findings', reportText(machine, figures.replay));
  }
  if (wanted.includes('live')) {
    const live = await measureLive();
    if (live === null) process.exit(3);
    figures.live = live;
    tellSection('Live: Kafka to committed', liveText(machine, live));
  }
  if (wanted.includes('api')) {
    const load = loadavg()[0] ?? 0;
    figures.api = await measureApi();
    tellSection('API: fleet page and stream', apiText({ ...machine, load }, figures.api));
  }
  if (wanted.includes('fleet')) {
    const file = await fleetFile(machines);
    const all = [1, 2].flatMap((threads) => fleetWorks.map((work) => ({ work, threads })));
    figures.fleet = all.map(({ work, threads }) => {
      process.stderr.write(`fleet: ${work} on ${threads}\n`);
      return measurePinned<FleetFigures>('fleet', ['--work', work, '--threads', `${threads}`], threads);
    });
    const line = `${machine.cpu}, ${machine.system}, Node ${machine.node}, @duckdb/node-api ${machine.duckdb}.`;
    tellSection('Fleet: a month of 100 machines', fleetText({ line }, { machines, bytes: file.bytes }, figures.fleet));
  }
  if (wanted.includes('slider')) {
    const slider = await measureSlider(process.env.WARMBRICK_BENCH_PICTURE);
    if (slider === null) process.exit(3);
    figures.slider = slider;
    const line = `${machine.cpu}, ${machine.cores} cores, ${machine.system}, Node ${machine.node}.`;
    tellSection('Bench page: a slider over a machine-month', sliderText(line, slider));
  }
  if (values.json) process.stdout.write(`${JSON.stringify({ machine, ...figures }, null, 1)}\n`);
  process.exit();
}

/** Prints a section, or puts it into the report in the place of the one of the same title. */
function tellSection(title: string, body: string): void {
  const section = `## ${title}\n\n${body}`;
  if (!values.json) process.stdout.write(`${section}\n`);
  if (!values.write) return;
  const path = new URL('report.md', import.meta.url);
  const report = existsSync(path) ? readFileSync(path, 'utf8') : '# Bench report\n';
  const [head = '', ...others] = report.split(/^(?=## )/m).map((part) => part.trimEnd());
  const kept = others.filter((part) => !part.startsWith(`## ${title}\n`));
  writeFileSync(path, `${[head, ...kept, section.trimEnd()].join('\n\n')}\n`);
}

/** What a process of its own is started for. */
async function measureHere(): Promise<unknown> {
  if (wanted[0] !== 'fleet') return measureReplay(machines, days);
  return measureFleet((await fleetFile(machines)).path, values.work as FleetWork, Number(values.threads));
}

/** Everything that is compared runs on the same core or two, DuckDB's own threads included. */
function measurePinned<Figures>(bench: string, args: readonly string[], cores: number): Figures {
  const script = fileURLToPath(import.meta.url);
  const size = ['--machines', `${machines}`, '--days', `${days}`];
  const own = [...process.execArgv, script, bench, '--in-process', ...size, ...args];
  const canPin = spawnSync('taskset', ['-V']).status === 0;
  const cpuList = cores === 1 ? '1' : `0-${cores - 1}`;
  const [command, all] = canPin ? ['taskset', ['-c', cpuList, process.execPath, ...own]] : [process.execPath, own];
  if (!canPin) process.stderr.write('taskset is not here: the process may use more cores\n');
  const child = spawnSync(command, all, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'inherit'] });
  if (child.status !== 0) process.exit(child.status ?? 1);
  return JSON.parse(child.stdout) as Figures;
}

interface MachineFacts {
  readonly cpu: string;
  readonly cores: number;
  readonly system: string;
  readonly node: string;
  readonly duckdb: string;
}

function machineFacts(): MachineFacts {
  const manifest = new URL('../../node_modules/@duckdb/node-api/package.json', import.meta.url);
  return {
    cpu: cpus()[0]?.model ?? 'unknown',
    cores: cpus().length,
    system: `${type()} ${release()}`,
    node: process.version,
    duckdb: (JSON.parse(readFileSync(manifest, 'utf8')) as { version: string }).version,
  };
}

function reportText(machine: MachineFacts, f: ReplayFigures): string {
  const row = (what: string, figure: string, budget: string) => `| ${what} | ${figure} | ${budget} |`;
  const { replay, sql } = f.answers;
  return `${machine.cpu}, ${machine.cores} cores (one used), ${machine.system}, Node ${machine.node}, @duckdb/node-api ${machine.duckdb}.
Made by \`npm run bench -- replay --write\`; everything in one run on one core, medians of ${f.rounds} rounds.

${(f.samples / 1e6).toFixed(1)} million samples of simulated machines at 1 Hz, six channels, ${(f.fileBytes / 1e6).toFixed(0)} MB.

| what | measured | budget |
|---|---|---|
${row('replay, all analyses', `${f.replayMSamplesPerS.toFixed(1)} million samples/s`, 'at least 5')}
${row('decoding the same columns alone', `${f.decodeMSamplesPerS.toFixed(1)} million samples/s`, '')}
${row('time of replay / time of decoding alone', f.replayTimeToDecodeTime.toFixed(2), 'under 2.5')}
${row('SQL: residency, idle streaks, hot shutdowns, one thread', `${f.sqlMSamplesPerS.toFixed(2)} million samples/s`, '')}
${row('replay / SQL', `${f.replayToSql.toFixed(1)} x`, 'at least 4')}
${row('processor time of one replay', `${f.replayCpuS.toFixed(2)} s`, '')}
${row('peak memory of the process, SQL included', `${f.peakMemoryMb.toFixed(0)} MB`, '')}

Both ways give: ran ${replay.runningS.toFixed(0)} s and ${sql.runningS.toFixed(0)} s, below the window ${replay.belowS.toFixed(0)} s and ${sql.belowS.toFixed(0)} s,
idle streaks ${replay.idleStreaks} and ${sql.idleStreaks}, hot stops ${replay.hotShutdowns} and ${sql.hotShutdowns}. SQL knows no turbine temperature,
no inferred stops and no proof of what a gap was, which is where the figures part.
`;
}
