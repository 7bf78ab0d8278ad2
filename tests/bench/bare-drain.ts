/**
 * Run by the bench `live` in a process of its own: the client as it is published, with its own codec, reads a topic and does
 * nothing but count. Arguments: brokers, topic, group, messages. Tells what became of it as one line of JSON.
 */

import { setTimeout as sleep } from 'node:timers/promises';
import kafkajs from 'kafkajs';
import { createPace } from './pace.js';

const [brokers = '', topic = '', groupId = '', count = '0'] = process.argv.slice(2);
const messages = Number(count);

const cpuS = () => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
};

const client = new kafkajs.Kafka({ clientId: 'bare', brokers: brokers.split(','), logLevel: kafkajs.logLevel.ERROR });
const consumer = client.consumer({ groupId, maxWaitTimeInMs: 250 });
const pace = createPace(messages);
let seen = 0;
consumer.on(consumer.events.GROUP_JOIN, () => pace.begin(cpuS()));
await consumer.connect();
await consumer.subscribe({ topics: [topic], fromBeginning: true });
await consumer.run({
  eachBatch: async ({ batch }) => {
    seen += batch.messages.length;
    pace.tell(seen, cpuS());
  },
});
while (seen < messages) await sleep(5);
const figures = pace.end(cpuS());
await consumer.disconnect();
process.stdout.write(`${JSON.stringify(figures)}\n`);
process.exit();
