/** An MQTT 3.1.1 broker on loopback that can go away and come back with everything it kept. */

import type { AddressInfo } from 'node:net';
import { createServer, type Server, type Socket } from 'node:net';
import { Aedes } from 'aedes';
import { connectAsync, type MqttClient } from 'mqtt';

export interface TestBroker {
  readonly url: string;
  readonly broker: Aedes;
  /** Acknowledgements that clients sent, by client id. */
  readonly acknowledged: Map<string, number>;
  publisher(): Promise<MqttClient>;
  /** Cuts every connection and takes no new one, until `comeBack`. */
  goAway(): Promise<void>;
  comeBack(): Promise<void>;
  close(): Promise<void>;
}

export async function startTestBroker(): Promise<TestBroker> {
  const broker = await Aedes.createBroker();
  const sockets = new Set<Socket>();
  const acknowledged = new Map<string, number>();
  broker.on('ack', (_packet, client) => {
    if (client !== null) acknowledged.set(client.id, (acknowledged.get(client.id) ?? 0) + 1);
  });
  const open = async (port: number): Promise<Server> => {
    const server = createServer((socket) => {
      sockets.add(socket);
      socket.once('close', () => sockets.delete(socket));
      broker.handle(socket);
    });
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen(port, '127.0.0.1', resolve);
    });
    return server;
  };
  let server = await open(0);
  const { port } = server.address() as AddressInfo;
  const url = `mqtt://127.0.0.1:${port}`;
  const goAway = async () => {
    const closed = new Promise<void>((resolve) => server.close(() => resolve()));
    for (const socket of sockets) socket.destroy();
    await closed;
  };
  const publishers: MqttClient[] = [];
  return {
    url,
    broker,
    acknowledged,
    async publisher() {
      const client = await connectAsync(url, { protocolVersion: 4, reconnectPeriod: 20 });
      publishers.push(client);
      return client;
    },
    goAway,
    async comeBack() {
      server = await open(port);
    },
    async close() {
      await Promise.all(publishers.map((client) => client.endAsync(true)));
      await goAway();
      await new Promise<void>((resolve) => broker.close(resolve));
    },
  };
}
