/** One Kafka broker in a container, where a Docker engine answers. */

import { execFileSync } from 'node:child_process';
import { GenericContainer, Wait } from 'testcontainers';
import type { BrokerCluster } from './maven-broker.js';

const image = 'apache/kafka:4.1.0';
const startWithinMs = 120_000;

/** Whether a Docker engine answers. */
export function hasDocker(): boolean {
  try {
    execFileSync('docker', ['info'], { stdio: 'ignore', timeout: 5000 });
    return true;
  } catch {
    return false;
  }
}

/**
 * Starts the broker. It has to announce the port that is published on the host, so that port is chosen beforehand.
 *
 * Nodes: none that can be killed; tests that do so need the other broker.
 */
export async function startDockerBroker(hostPort: number): Promise<BrokerCluster> {
  const container = await new GenericContainer(image)
    .withExposedPorts({ container: 9092, host: hostPort })
    .withEnvironment({
      KAFKA_NODE_ID: '1',
      KAFKA_PROCESS_ROLES: 'broker,controller',
      KAFKA_CONTROLLER_QUORUM_VOTERS: '1@localhost:9093',
      KAFKA_LISTENERS: 'CLIENT://:9092,CONTROLLER://:9093',
      KAFKA_ADVERTISED_LISTENERS: `CLIENT://127.0.0.1:${hostPort}`,
      KAFKA_LISTENER_SECURITY_PROTOCOL_MAP: 'CLIENT:PLAINTEXT,CONTROLLER:PLAINTEXT',
      KAFKA_CONTROLLER_LISTENER_NAMES: 'CONTROLLER',
      KAFKA_INTER_BROKER_LISTENER_NAME: 'CLIENT',
      KAFKA_AUTO_CREATE_TOPICS_ENABLE: 'false',
      KAFKA_OFFSETS_TOPIC_REPLICATION_FACTOR: '1',
      KAFKA_TRANSACTION_STATE_LOG_REPLICATION_FACTOR: '1',
      KAFKA_TRANSACTION_STATE_LOG_MIN_ISR: '1',
      KAFKA_GROUP_INITIAL_REBALANCE_DELAY_MS: '0',
      KAFKA_GROUP_MIN_SESSION_TIMEOUT_MS: '1000',
    })
    .withWaitStrategy(Wait.forLogMessage(/Kafka Server started/))
    .withStartupTimeout(startWithinMs)
    .start();
  return {
    brokers: [`127.0.0.1:${hostPort}`],
    nodes: [],
    stop: async () => {
      await container.stop();
    },
  };
}
