/**
 * `npm run scorecard [-- --machines N] [--days D] [--seed S] [--json] [--no-outlook] [--examples] [--write]`: scores the
 * analysis against simulated machines. `--write` puts the page into tests/scorecard/report.md.
 */

import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { derateHead, withDerates } from './derate-report.js';
import { reportText } from './report-text.js';
import { runScorecard } from './run-scorecard.js';

const { values } = parseArgs({
  options: {
    machines: { type: 'string', default: '60' },
    days: { type: 'string', default: '3' },
    seed: { type: 'string', default: '1' },
    json: { type: 'boolean', default: false },
    'no-outlook': { type: 'boolean', default: false },
    examples: { type: 'boolean', default: false },
    write: { type: 'boolean', default: false },
  },
});

const [machines, days, seed] = [Number(values.machines), Number(values.days), Number(values.seed)];
if (!(Number.isInteger(machines) && machines >= 1 && days >= 1 && days <= 60 && Number.isInteger(seed) && seed >= 0)) {
  process.stderr.write('Expected --machines from 1, --days from 1 to 60 and a whole --seed from 0.\n');
  process.exit(2);
}

const before = process.cpuUsage();
const card = runScorecard({
  machines,
  days,
  seed,
  hasOutlook: !values['no-outlook'],
  onMachine: (done) => process.stderr.isTTY && process.stderr.write(`\r${done} of ${machines} machines `),
});
if (process.stderr.isTTY) process.stderr.write('\n');
process.stderr.write(`${(process.cpuUsage(before).user / 1e6).toFixed(0)} s of processor time\n`);

const text = reportText(card, `Node ${process.versions.node}.`);
process.stdout.write(values.json ? `${JSON.stringify(card, null, 1)}\n` : `${text}\n`);
if (values.examples && !values.json) {
  for (const { examples } of card.kinds) for (const example of examples) process.stdout.write(`${example}\n`);
}
if (values.write) {
  // The section on derates has a command of its own and stays.
  const page = new URL('report.md', import.meta.url);
  const old = existsSync(page) ? readFileSync(page, 'utf8') : '';
  const derates = old.includes(derateHead) ? old.slice(old.indexOf(derateHead)).trimEnd() : null;
  writeFileSync(page, derates === null ? `${text}\n` : withDerates(`${text}\n`, derates));
}
