/**
 * `npm run scorecard:derates [-- --cases N] [--seed S] [--fleet N] [--json] [--write]`: scores the inquiry into the origin of
 * derates. `--fleet` machines of the whole simulator live four days beside the cases (0: none); `--write` puts the section
 * into tests/scorecard/report.md.
 */

import { readFileSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { scoreFleetOrigins } from './derate-fleet.js';
import { scoreOrigins } from './derate-origins.js';
import { derateText, withDerates } from './derate-report.js';

const { values } = parseArgs({
  options: {
    cases: { type: 'string', default: '600' },
    seed: { type: 'string', default: '400001' },
    fleet: { type: 'string', default: '50' },
    json: { type: 'boolean', default: false },
    write: { type: 'boolean', default: false },
  },
});

const [cases, seed, machines] = [Number(values.cases), Number(values.seed), Number(values.fleet)];
if (
  !(Number.isInteger(cases) && cases >= 1 && cases <= 10_000 && Number.isInteger(seed) && seed >= 0 && machines >= 0)
) {
  process.stderr.write('Expected --cases from 1 to 10000 and a whole --seed from 0.\n');
  process.exit(2);
}

/** Seed of the fleet. */
const fleetSeed = 77;
const { score, outcomes } = scoreOrigins(seed, cases);
const fleet = machines === 0 ? null : scoreFleetOrigins({ machines, days: 4, seed: fleetSeed });
const text = derateText(score, fleet);
process.stdout.write(values.json ? `${JSON.stringify({ score, outcomes, fleet }, null, 1)}\n` : `${text}\n`);
if (values.write) {
  const page = new URL('report.md', import.meta.url);
  writeFileSync(page, withDerates(readFileSync(page, 'utf8'), text));
}
