/** The figures of the live bench as a section of the report. */

import { loadavg } from 'node:os';
import type { DrainFigures, LiveFigures } from './live-bench.js';

interface Machine {
  readonly cpu: string;
  readonly cores: number;
  readonly system: string;
  readonly node: string;
}

const whole = (value: number) => Math.round(value).toLocaleString('en');

/** Markdown without the title. */
export function liveText(machine: Machine, f: LiveFigures): string {
  const row = (what: string, ...cells: string[]) => `| ${what} | ${cells.join(' | ')} |`;
  const both = (what: string, cell: (of: DrainFigures) => string) => row(what, cell(f.singles), cell(f.packets));
  const cores = (of: DrainFigures) => (of.ownCpuS + of.databaseCpuS + of.brokerCpuS) / of.tookS;
  return `${machine.cpu}, ${machine.cores} cores for broker, database and ingest together, ${machine.system}, Node ${machine.node}.
Made by \`npm run bench -- live --write\`; ${f.machines} simulated machines, six channels at 1 Hz, JSON under gzip, 8 partitions, one
member with its usual settings, PostgreSQL with fsync; medians of ${f.rounds} rounds, each into an empty database. Budget: packets at 0.6 of
the bare client and 300,000 samples/s. Processes waiting for a core at the end, a minute's mean: ${(loadavg()[0] ?? 0).toFixed(1)}; with more than there are cores,
compare processor times, not rates.

| what | single samples | packets of 60 |
|---|---|---|
${both('messages', (of) => whole(of.messages))}
${both('megabytes of JSON', (of) => whole(of.megabytes))}
${both('bare client, messages/s', (of) => whole(of.bareMessagesPerS))}
${both('ingest, messages/s', (of) => whole(of.ingestMessagesPerS))}
${both('ingest, samples/s', (of) => whole(of.ingestSamplesPerS))}
${both('ingest / bare client', (of) => of.ingestToBare.toFixed(2))}
${both('processor time: bare client, s', (of) => of.bareCpuS.toFixed(2))}
${both('processor time: bare client / ingest', (of) => of.bareCpuToOwn.toFixed(2))}
${both('samples a second of processor time of ingest', (of) => whole(of.ingestSamplesPerOwnCpuS))}
${both('processor time: decoding the messages alone, s', (of) => of.decodeS.toFixed(2))}
${both('transactions', (of) => whole(of.transactions))}
${both('processor time: ingest, s', (of) => of.ownCpuS.toFixed(2))}
${both('processor time: its main thread, s', (of) => of.mainCpuS.toFixed(2))}
${both('processor time: database, s', (of) => of.databaseCpuS.toFixed(2))}
${both('processor time: broker, s', (of) => of.brokerCpuS.toFixed(2))}
${both('time, s', (of) => of.tookS.toFixed(2))}
${both('cores in use', (of) => cores(of).toFixed(2))}
${both('peak memory of the whole bench so far, MB', (of) => whole(of.peakMemoryMb))}

States of ${whole(f.memory.machines)} machines in memory: ${whole(f.memory.heapMb)} MB of heap, ${whole(f.memory.residentMb)} MB resident (budget: under 1,024).

${limitsText(machine, f.packets)}
`;
}

/** What the time goes into, in numbers of the same run. */
function limitsText({ cores }: Machine, of: DrainFigures): string {
  const bareS = of.messages / of.bareMessagesPerS;
  const allS = of.ownCpuS + of.databaseCpuS + of.brokerCpuS;
  const share = (part: number) => `${((100 * part) / of.ownCpuS).toFixed(0)} %`;
  const rest = Math.max(0, of.ownCpuS - of.bareCpuS - of.decodeS);
  return `What limits it, for packets: processor time. Of our ${of.ownCpuS.toFixed(2)} s, fetching and unpacking are about ${share(of.bareCpuS)} (what the
bare client takes for the same topic), decoding ${share(of.decodeS)}, and the remaining ${share(rest)} analysis with all detectors, packing of the
archive and of the machines' states, handing over between threads, and collecting garbage. The thread that reads and commits
had ${of.mainCpuS.toFixed(2)} s of it, the threads that decode and analyse, with collectors and unpackers, ${(of.ownCpuS - of.mainCpuS).toFixed(2)} s. Were everything, broker and database
included, spread over all ${cores} cores without a pause, the ratio to the bare client would be ${(bareS / (allS / cores)).toFixed(2)}; above that only less work helps.`;
}
