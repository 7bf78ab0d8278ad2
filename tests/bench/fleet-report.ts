/** The report of the fleet bench, as text. */

import type { FleetFigures, FleetWork } from './fleet-bench.js';

/** Table and what is to be said beside it. */
export function fleetText(
  machine: { readonly line: string },
  file: { machines: number; bytes: number },
  all: readonly FleetFigures[],
): string {
  const of = (work: FleetWork, threads: number) =>
    all.find((figures) => figures.work === work && figures.threads === threads) as FleetFigures;
  const rate = (f: FleetFigures) => `${(f.samples / f.s / 1e6).toFixed(2)}`;
  const rows = all.map(
    (f) =>
      `| ${names[f.work]} | ${f.threads} | ${rate(f)} | ${f.s.toFixed(1)} | ${f.cpuS.toFixed(1)} | ${f.peakMemoryMb.toFixed(0)} |`,
  );
  const each = (f: FleetFigures) => f.s / f.samples;
  const ratio = (a: FleetFigures, b: FleetFigures) => (each(a) / each(b)).toFixed(2);
  const lines = [1, 2].map((n) => {
    const [replay, decode, sql] = [of('replay', n), of('decode', n), of('sql', n)];
    return `| ${n} | ${ratio(sql, replay)} x (at least 4) | ${ratio(replay, decode)} (under 2.5) |`;
  });
  const replay = of('replay', 1);
  const sql = of('sql', 1);
  return `${machine.line}
Made by \`npm run bench -- fleet --write\`; each line a process of its own on so many cores, once.

${file.machines} machines, ${(replay.samples / 1e6).toFixed(0)} million samples at 1 Hz (as many as 30 days of 24 hours have), six channels,
${(file.bytes / 1e6).toFixed(0)} MB of Parquet: four simulated machines, repeated under other names and on other days.

| what | cores | million samples/s | s | processor time, s | peak memory, MB |
|---|---|---|---|---|---|
${rows.join('\n')}

| cores | replay / SQL | time of replay / time of decoding |
|---|---|---|
${lines.join('\n')}

On two cores against one: replay ${ratio(replay, of('replay', 2))} x, decoding ${ratio(of('decode', 1), of('decode', 2))} x, SQL ${ratio(sql, of('sql', 2))} x.
Both ways give: idle streaks ${replay.idleStreaks} and ${sql.idleStreaks}, hot stops ${replay.hotShutdowns} and ${sql.hotShutdowns} for the machines that SQL was given. It takes ten at a
time, because its windows over all of them do not fit into memory, and 20 of the 100 (${(sql.samples / 1e6).toFixed(0)} million samples): each takes it as long. The
replay holds one block a machine, whatever the length.

${explanation}
`;
}

const names: Readonly<Record<FleetWork, string>> = {
  replay: 'replay, all analyses',
  decode: 'decoding the same columns alone',
  sql: 'SQL: residency, idle streaks, hot shutdowns',
};

const explanation = `What is left: half of the time of a replay is decoding. DuckDB itself takes about 50 ns a sample for it (a third is decompression; it
hands over 2,048 rows at a time, each a task of its thread pool), 20 ns go into the buffers by which its columns are seen from here
and their collection, the rest into rounding and copying into blocks. The analysis is a dozen loops of 1 to 15 ns a sample each
without one that stands out; fusing them would save the loading of the same five columns and cost their being told apart. On two
cores, two threads each read parts of whole machines: rows of a part are picked by their number, which costs DuckDB a quarter more
than reading the file from end to end, each part reads the file's index anew (0.4 s for one of this size), and both share a cache.`;
