/**
 * `npm run scorecard:derates [-- --cases N] [--seed S] [--json] [--write]`: scores the inquiry into the origin of derates. `--write`
 * puts its section into tests/scorecard/report.md.
 */

import { readFileSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { scoreOrigins } from './derate-origins.js';
import { derateText, withDerates } from './derate-report.js';

const { values } = parseArgs({
  options: {
    cases: { type: 'string', default: '600' },
    seed: { type: 'string', default: '400001' },
    json: { type: 'boolean', default: false },
    write: { type: 'boolean', default: false },
  },
});

const [cases, seed] = [Number(values.cases), Number(values.seed)];
if (!(Number.isInteger(cases) && cases >= 1 && cases <= 10_000 && Number.isInteger(seed) && seed >= 0)) {
  process.stderr.write('Expected --cases from 1 to 10000 and a whole --seed from 0.\n');
  process.exit(2);
}

const { score, outcomes } = scoreOrigins(seed, cases);
const text = derateText(score);
process.stdout.write(values.json ? `${JSON.stringify({ score, outcomes }, null, 1)}\n` : `${text}\n`);
if (values.write) {
  const page = new URL('report.md', import.meta.url);
  writeFileSync(page, withDerates(readFileSync(page, 'utf8'), text));
}
