/** Fetches the jars of a Kafka broker, so that the tests find them: `npx tsx --conditions=source tests/kafka/fetch-broker.ts`. */

import { findJars } from './maven-broker.js';

const found = await findJars();
if ('problem' in found) {
  process.stderr.write(`${found.problem}\n`);
  process.exit(1);
}
process.stdout.write(`Kafka broker: ${found.folder}\n`);
