/** A Kafka for a test file: the one that is named, one in a container, or one of our own. */

import { randomBytes } from 'node:crypto';
import { createKafka, ensureTopics, type KafkaClient, type KafkaLogger } from '@warmbrick/kafka';
import { hasDocker, startDockerBroker } from './docker-broker.js';
import { type BrokerCluster, findJars, freePorts, startMavenBrokers } from './maven-broker.js';

export interface TestKafka extends BrokerCluster {
  /** Folder with Java clients; null when the broker is not one of our own. */
  readonly jars: string | null;
  client(clientId: string, logger?: KafkaLogger): KafkaClient;
  /** A new topic of a name of its own. */
  freshTopic(partitions: number): Promise<string>;
  freshName(what: string): string;
}

export interface Wanted {
  readonly nodes: 1 | 3;
  /** The test kills or freezes nodes, or needs a Java client: only a broker of our own will do. */
  readonly needsOwn?: boolean;
}

/** Takes no line: what the client says about failures that a test makes is no news. */
export const quiet: KafkaLogger = { debug() {}, info() {}, warn() {}, error() {} };

/**
 * The first of: WARMBRICK_TEST_KAFKA (brokers with commas between), Docker, the jars of Maven Central with Java.
 *
 * Missing: null, after one line that says why; with CI set it throws, as everything it needs can be installed there.
 */
export async function findKafka(wanted: Wanted): Promise<TestKafka | null> {
  const found = await choose(wanted);
  if (typeof found === 'string') {
    if (process.env.CI !== undefined) throw new Error(`No Kafka for the tests: ${found}`);
    console.warn(`skipped: no Kafka for the tests (${found})`);
    return null;
  }
  console.error(`Kafka for the tests: ${found.what}, ${found.cluster.brokers.join(',')}`);
  return equip(found.cluster, found.jars);
}

interface Found {
  readonly what: string;
  readonly cluster: BrokerCluster;
  readonly jars: string | null;
}

async function choose({ nodes, needsOwn = false }: Wanted): Promise<Found | string> {
  const named = process.env.WARMBRICK_TEST_KAFKA;
  const isAnyGood = !needsOwn && nodes === 1;
  if (isAnyGood && named !== undefined) {
    return {
      what: 'the one named in WARMBRICK_TEST_KAFKA',
      cluster: { brokers: named.split(','), nodes: [], stop: async () => {} },
      jars: null,
    };
  }
  if (isAnyGood && hasDocker()) {
    const [port] = await freePorts(1);
    return { what: 'a container', cluster: await startDockerBroker(port as number), jars: null };
  }
  const jars = await findJars();
  if ('problem' in jars) return jars.problem;
  const cluster = await startMavenBrokers(jars.folder, nodes);
  return { what: `${nodes} of our own from ${jars.folder}`, cluster, jars: jars.folder };
}

function equip(cluster: BrokerCluster, jars: string | null): TestKafka {
  const freshName = (what: string) => `${what}-${randomBytes(5).toString('hex')}`;
  const client = (clientId: string, logger = quiet) => createKafka({ brokers: cluster.brokers, clientId, logger });
  return {
    ...cluster,
    jars,
    client,
    freshName,
    freshTopic: async (partitions) => {
      const topic = freshName('topic');
      await ensureTopics(client('topics'), [{ topic, partitions, replication: cluster.nodes.length === 3 ? 3 : 1 }]);
      return topic;
    },
  };
}
