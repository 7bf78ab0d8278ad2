/** `npm run chaos -- --seconds N --seed S`: the last line is the verdict as JSON; exit code 1 when something is wrong. */

import { parseArgs } from 'node:util';
import { findKafka } from '../kafka/kafka-provider.js';
import { runChaos } from './run-chaos.js';

const { values } = parseArgs({
  options: {
    seconds: { type: 'string', default: '60' },
    seed: { type: 'string', default: String(Date.now() % 1_000_000) },
  },
});
const [seconds, seed] = [Number(values.seconds), Number(values.seed)];
if (!(seconds >= 5 && seconds <= 86_400) || !Number.isInteger(seed)) {
  process.stderr.write('--seconds takes 5 to 86400, --seed a whole number.\n');
  process.exit(2);
}

const startedMs = Date.now();
const say = (line: string) => void process.stderr.write(`${((Date.now() - startedMs) / 1000).toFixed(1)} s: ${line}\n`);
say(`seed ${seed}, ${seconds} s`);
const kafka = await findKafka({ nodes: 1, needsOwn: true });
if (kafka === null) process.exit(3);
try {
  const { differences, ...outcome } = await runChaos({ kafka, seconds, seed, say });
  for (const difference of differences.slice(0, 10)) say(difference);
  const isFine =
    outcome.findingsEqual && outcome.missing + outcome.doubled + outcome.alertsLost + outcome.alertsRepeated === 0;
  process.exitCode = isFine ? 0 : 1;
  await kafka.stop();
  process.stdout.write(`${JSON.stringify({ seed, ...outcome })}\n`);
} catch (error) {
  await kafka.stop();
  throw error;
}
process.exit();
