/**
 * `npm run bench [-- replay live api] [--json] [--machines N] [--days D] [--write]`: measures against baselines in the same run.
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
import { type LiveFigures, measureLive } from './live-bench.js';
import { measureMemory } from './live-memory.js';
import { liveText } from './live-report.js';
import { measureReplay, type ReplayFigures } from './replay-bench.js';

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    json: { type: 'boolean', default: false },
    write: { type: 'boolean', default: false },
    machines: { type: 'string', default: '4' },
    days: { type: 'string', default: '30' },
    'in-process': { type: 'boolean', default: false },
  },
});

const benches = ['replay', 'live', 'api'] as const;
/** Run by `live` in a process of its own. */
const inner = 'live-memory';
const wanted: readonly string[] = positionals.length === 0 ? benches : positionals;
const unknown = wanted.filter((name) => name !== inner && !(benches as readonly string[]).includes(name));
if (unknown.length > 0) {
  process.stderr.write(`No bench is called ${unknown.join(', ')}; there is: ${benches.join(', ')}.\n`);
  process.exit(2);
}
const machines = Number(values.machines);
const days = Number(values.days);

if (values['in-process']) {
  const figures = wanted[0] === inner ? await measureMemory(10_000) : await measureReplay(machines, days);
  process.stdout.write(`${JSON.stringify(figures)}\n`);
} else {
  const machine = machineFacts();
  const figures: { replay?: ReplayFigures; live?: LiveFigures; api?: ApiFigures } = {};
  if (wanted.includes('replay')) {
    await benchFile(machines, days);
    figures.replay = measureOnOneCore();
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

/** Everything that is compared runs on one and the same core, DuckDB's own threads included. */
function measureOnOneCore(): ReplayFigures {
  const script = fileURLToPath(import.meta.url);
  const own = [...process.execArgv, script, 'replay', '--in-process', '--machines', `${machines}`, '--days', `${days}`];
  const canPin = spawnSync('taskset', ['-V']).status === 0;
  const [command, args] = canPin ? ['taskset', ['-c', '1', process.execPath, ...own]] : [process.execPath, own];
  if (!canPin) process.stderr.write('taskset is not here: the process may use more than one core\n');
  const child = spawnSync(command, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'inherit'] });
  if (child.status !== 0) process.exit(child.status ?? 1);
  return JSON.parse(child.stdout) as ReplayFigures;
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
