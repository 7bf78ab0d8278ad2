/** What the API's bench measured, in words. */

import type { ApiFigures, LoadFigures } from './api-bench.js';

/** Text of the section. */
export function apiText(
  machine: { cpu: string; cores: number; system: string; node: string; load: number },
  f: ApiFigures,
): string {
  const row = (what: string, pick: (load: LoadFigures) => string, budget: string) =>
    `| ${what} | ${pick(f.quiet)} | ${pick(f.busy)} | ${budget} |`;
  const { stream } = f;
  return `${machine.cpu}, ${machine.cores} cores shared by the API, its database and the clients, ${machine.system}, Node ${machine.node};
load of the machine when it began: ${machine.load.toFixed(1)}. Made by \`npm run bench -- api --write\`.

The fleet page of ${f.machines} machines: 5 pages of all, 2 of one fleet's key, compressed, over 50
connections and spread over each second; "busy" while machines go on changing.

| what | quiet | busy | budget |
|---|---|---|---|
${row('requests/s', (load) => load.requestsPerS.toFixed(0), '500 asked for')}
${row('p50, ms', (load) => load.p50Ms.toFixed(0), '')}
${row('p99, ms', (load) => load.p99Ms.toFixed(0), 'under 50')}
${row('p99.9, ms', (load) => load.p999Ms.toFixed(0), '')}
${row('failed', (load) => String(load.failed), '0')}
${row('MB/s sent', (load) => load.megabytesPerS.toFixed(1), '')}
${row('cores in use by the API', (load) => load.cpuRatio.toFixed(2), '')}

The event stream with ${stream.clients} listeners, a tenth of them to all fleets, ${stream.eventsPerS} events a second in bursts:

| what | measured |
|---|---|
| events delivered, of those expected | ${stream.delivered} of ${stream.expected.toFixed(0)} |
| from publishing to the listener, p50 and p99, ms | ${stream.lagP50Ms.toFixed(0)}, ${stream.lagP99Ms.toFixed(0)} |
| memory of the process before and with the listeners, MB | ${stream.residentBeforeMb.toFixed(0)}, ${stream.residentAfterMb.toFixed(0)} |
| memory a listener, kB | ${stream.kilobytesPerClient.toFixed(0)} |
| cores in use by the API | ${stream.cpuRatio.toFixed(2)} |
`;
}
