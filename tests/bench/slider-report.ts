/** The figures of the slider bench as a section of the report. */

import { loadavg } from 'node:os';
import type { SliderFigures } from './slider-bench.js';

/** Markdown without the title. `line` says which machine it was. */
export function sliderText(line: string, figures: SliderFigures): string {
  const rows = figures.moves.map(
    ({ threshold, workerMs, pageMs }) => `| \`${threshold}\` | ${workerMs.toFixed(0)} | ${pageMs.toFixed(0)} |`,
  );
  return `${line}
Made by \`npm run bench -- slider --write\` in headless Chromium; one machine over 30 days at 1 Hz, six channels,
${(figures.samples / 1e6).toFixed(2)} million samples in a web worker; medians of ${figures.rounds} moves to values not seen before. Budget: under
300 ms, off the main thread. Loading the month took ${figures.loadS.toFixed(1)} s. Processes waiting for a core at the end, a minute's mean:
${(loadavg()[0] ?? 0).toFixed(1)} on 2 cores.

| threshold moved | findings again, in the worker, ms | from the input to the drawn answer, ms |
|---|---|---|
${rows.join('\n')}

Only the detectors that asked for the moved threshold run again, over the stretches that the observer saw. \`cooldownWantedS\` is asked
for by the observer itself, so everything runs; the score follows 150 ms after the slider rests.
`;
}
