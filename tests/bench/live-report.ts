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
  return `${machine.cpu}, ${machine.cores} cores for broker, database and ingest together, ${machine.system}, Node ${machine.node}.
Made by \`npm run bench -- live --write\`; ${f.machines} simulated machines, six channels at 1 Hz, JSON under gzip, 8 partitions, PostgreSQL with
fsync. The client is kafkajs as it is published, ingest the process as it is shipped, one member with its usual settings, each in a
process of its own and into an empty database; medians of ${f.rounds} rounds. "Steady" is from the first tenth of the messages to nine tenths:
before that threads are started and warmed up, after that the last partition is worked off alone. Budget: packets at 0.6 of the bare client
and 300,000 samples/s. Processes waiting for a core at the end, a minute's mean: ${(loadavg()[0] ?? 0).toFixed(1)}.

| what | single samples | packets of 60 |
|---|---|---|
${both('messages', (of) => whole(of.messages))}
${both('megabytes of JSON', (of) => whole(of.megabytes))}
${both('bare client, steady, messages/s', (of) => whole(of.bare.steadyPerS))}
${both('ingest, steady, messages/s', (of) => whole(of.ingest.steadyPerS))}
${both('ingest, steady, samples/s', (of) => whole(samplesOf(of) * of.ingest.steadyPerS))}
${both('ingest / bare client, steady', (of) => (of.ingest.steadyPerS / of.bare.steadyPerS).toFixed(2))}
${both('bare client, from the join to the last message, s', (of) => of.bare.wholeS.toFixed(2))}
${both('ingest, from the join to the last commit, s', (of) => of.ingest.wholeS.toFixed(2))}
${both('samples a second of processor time of ingest, steady', (of) => whole(samplesOf(of) / of.ingest.steadyCpuS))}
${both('processor time of the whole: bare client, s', (of) => of.bare.wholeCpuS.toFixed(2))}
${both('decoding the messages alone, s', (of) => of.decodeS.toFixed(2))}
${both('ingest, s', (of) => of.ingest.wholeCpuS.toFixed(2))}
${both('its thread that reads and commits, s', (of) => of.ingest.mainCpuS.toFixed(2))}
${both('database, s', (of) => of.ingest.databaseCpuS.toFixed(2))}
${both('broker, s', (of) => of.ingest.brokerCpuS.toFixed(2))}
${both('cores in use', (of) => (allCpuS(of) / of.ingest.wholeS).toFixed(2))}
${both('peak memory of ingest, MB', (of) => whole(of.ingest.peakMemoryMb))}

States of ${whole(f.memory.machines)} machines in memory: ${whole(f.memory.heapMb)} MB of heap, ${whole(f.memory.residentMb)} MB resident (budget: under 1 GiB, which is 1,074 MB).

${limitsText(machine, f.packets)}
`;
}

function samplesOf({ samples, messages }: DrainFigures): number {
  return samples / messages;
}

function allCpuS({ ingest }: DrainFigures): number {
  return ingest.wholeCpuS + ingest.databaseCpuS + ingest.brokerCpuS;
}

/** What the time goes into, in numbers of the same run. */
function limitsText({ cores }: Machine, of: DrainFigures): string {
  const { bare, ingest, decodeS } = of;
  const otherS = ingest.wholeCpuS - ingest.mainCpuS;
  return `What limits it, for packets: processor time. Of the ${ingest.wholeCpuS.toFixed(2)} s of ingest, the thread that reads and commits has ${ingest.mainCpuS.toFixed(2)} s; the threads that
decode (${decodeS.toFixed(2)} s by itself), analyse and pack, with unpackers and collectors, have ${otherS.toFixed(2)} s. The bare client takes ${bare.wholeCpuS.toFixed(2)} s; it unpacks
gzip in pieces of 16 KiB, ingest in one, which halves that. Broker and database have ${(ingest.databaseCpuS + ingest.brokerCpuS).toFixed(2)} s. Of ${cores} cores, ${(allCpuS(of) / ingest.wholeS).toFixed(2)} are in use.`;
}
